"""Custody at a partner, the dossier of one that leaves, and what is heard of it later."""

import json
from calendar import monthrange
from datetime import date
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.afar.lifecycle import CUSTODY, NEWS
from registry.animals.models import EggCase, OfOne, Precision, one_of
from registry.lifecycle import Lifecycle
from registry.people.models import Institution
from registry.projects.models import Project
from registry.saying import day_said, month_said

_PERSON = settings.AUTH_USER_MODEL


class CustodyQuerySet(models.QuerySet["Custody"]):
    """Reads of custodies."""

    def on_day(self, day: Any) -> "CustodyQuerySet":
        """Custodies that hold on this day; the day of the return is no longer one."""
        return self.filter(began_on__lte=day).filter(Q(ended_on=None) | Q(ended_on__gt=day))


class Custody(OfOne):
    """What a partner keeps for a while, an animal, a group, an egg case: away, it has not left."""

    kind: ClassVar[str] = "custody"
    lifecycle: ClassVar[Lifecycle] = CUSTODY
    reach: ClassVar[dict[str, str]] = {"project": "project"}

    class Outcome(models.TextChoices):
        """How a custody ended."""

        RETURNED = "returned", "came back"
        DIED = "died", "died there"
        DEPARTED = "departed", "left from there for good"

    case = models.ForeignKey(EggCase, on_delete=models.PROTECT, null=True, blank=True)
    holder = models.ForeignKey(Institution, on_delete=models.PROTECT, related_name="custodies")
    place = models.CharField(max_length=120, help_text="The room and the tank there.")
    answerable = models.ForeignKey(
        _PERSON,
        on_delete=models.PROTECT,
        related_name="custodies_answered_for",
        help_text="Who answers for its care while it is there.",
    )
    project = models.ForeignKey(
        Project, on_delete=models.PROTECT, null=True, blank=True, related_name="custodies"
    )
    why = models.TextField(blank=True)
    number = models.PositiveIntegerField(default=1, help_text="How many animals went.")
    began_on = models.DateField()
    expected_end_on = models.DateField()
    given_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="custodies_given")
    recorded_at = models.DateTimeField(default=timezone.now)
    ended_on = models.DateField(null=True, blank=True)
    outcome = models.CharField(max_length=20, choices=Outcome, blank=True)
    end_note = models.TextField(blank=True)
    ended_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="custodies_ended"
    )
    end_recorded_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=CUSTODY.choices, default=CUSTODY.first)

    objects = CustodyQuerySet.as_manager()

    class Meta(OfOne.Meta):
        default_related_name = "custodies"
        ordering: ClassVar[list[str]] = ["-began_on", "-pk"]
        verbose_name_plural = "custodies"
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=one_of("animal", "group", "case"), name="custody_of_one"
            ),
            *(
                models.UniqueConstraint(
                    fields=[name],
                    condition=Q(state="given") & Q(**{f"{name}__isnull": False}),
                    name=f"{name}_in_one_custody",
                )
                for name in ("animal", "group", "case")
            ),
        ]

    @property
    def subject(self) -> Any:
        """The animal, the group or the egg case."""
        return self.animal or self.group or self.case

    def __str__(self) -> str:
        return f"{self.subject} at {self.holder}"

    @property
    def tone(self) -> str:
        """The tone of its state's word: under way, or over."""
        return "part" if self.state == "given" else "past"

    def is_overdue_on(self, day: date) -> bool:
        """Say whether it was expected back by this day, and is not."""
        return self.state == "given" and self.expected_end_on < day

    def get_absolute_url(self) -> str:
        """Give the address of the custody's page."""
        return f"/animals/custodies/{self.pk}/"


class Dossier(OfOne):
    """What goes with an animal that leaves, as it was written then; never edited, written anew."""

    kind: ClassVar[str] = "dossier"

    receiver = models.CharField(max_length=200, help_text="The collection or the person.")
    # The exact text that was handed over, and not a JSON column, which would order it anew.
    text = models.TextField()
    sha256 = models.CharField(max_length=64)
    written_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="dossiers")
    written_at = models.DateTimeField(default=timezone.now)

    class Meta(OfOne.Meta):
        default_related_name = "dossiers"
        ordering: ClassVar[list[str]] = ["-written_at", "-pk"]

    def __str__(self) -> str:
        return f"dossier {self.pk} of {self.subject}"

    @property
    def content(self) -> dict[str, Any]:
        """What it says."""
        found: dict[str, Any] = json.loads(self.text)
        return found

    def get_absolute_url(self) -> str:
        """Give the address of the dossier's page."""
        return f"/animals/dossiers/{self.pk}/"


def first_and_last(day: date, precision: str) -> tuple[date, date]:
    """Give the first and the last day that a day known so well may have been.

    One that was estimated may have been any of its year.

    Examples
    --------
    >>> first_and_last(date(2028, 2, 14), "month")
    (datetime.date(2028, 2, 1), datetime.date(2028, 2, 29))
    """
    if precision in {Precision.YEAR, Precision.ESTIMATED}:
        return date(day.year, 1, 1), date(day.year, 12, 31)
    if precision == Precision.MONTH:
        return day.replace(day=1), day.replace(day=monthrange(day.year, day.month)[1])
    return day, day


class News(OfOne):
    """Something heard of one that has left: it bred, it died, it moved on, it is well.

    What is told of young that it had elsewhere follows the news of their birth, so that they can
    be followed for generations.
    """

    kind: ClassVar[str] = "news"
    lifecycle: ClassVar[Lifecycle] = NEWS

    class Sort(models.TextChoices):
        """What was heard."""

        BRED = "bred", "bred"
        MOVED_ON = "moved_on", "moved on"
        DIED = "died", "died"
        SEEN = "seen", "seen, and living"

    follows = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by"
    )
    generation = models.PositiveSmallIntegerField(
        default=0, help_text="0: the animal itself; 1: its young; 2: theirs."
    )
    sort = models.CharField(max_length=20, choices=Sort)
    happened_on = models.DateField()
    precision = models.CharField(max_length=10, choices=Precision, default=Precision.DAY)
    number = models.PositiveIntegerField(
        null=True, blank=True, help_text="How many young were born, died or moved on."
    )
    where = models.CharField(max_length=200)
    said = models.TextField(blank=True)
    told_by = models.CharField(max_length=200, help_text="Who told it, and how.")
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="news_recorded")
    state = models.CharField(max_length=20, choices=NEWS.choices, default=NEWS.first)

    class Meta(OfOne.Meta):
        default_related_name = "news"
        ordering: ClassVar[list[str]] = ["happened_on", "pk"]
        verbose_name_plural = "news"

    def __str__(self) -> str:
        return f"{self.subject}: {self.get_sort_display()}, {self.where}"

    @property
    def days(self) -> tuple[date, date]:
        """The first and the last day on which it may have happened."""
        return first_and_last(self.happened_on, self.precision)

    @property
    def when_said(self) -> str:
        """The day, the month or the year, as it is known."""
        if self.precision == Precision.YEAR:
            return str(self.happened_on.year)
        if self.precision == Precision.ESTIMATED:
            return _("about %(day)s") % {"day": month_said(self.happened_on)}
        is_month = self.precision == Precision.MONTH
        return month_said(self.happened_on) if is_month else day_said(self.happened_on)

    def get_absolute_url(self) -> str:
        """Give the address of the news' page."""
        return f"/animals/news/{self.pk}/"
