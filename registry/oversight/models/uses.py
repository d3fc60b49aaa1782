"""Uses of animals; never edited, taken back by an entry beside them."""

from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef
from django.db.models.functions import Coalesce
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group, one_of
from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import USE
from registry.oversight.models.bookings import IN_PROJECT, Enrolment
from registry.oversight.models.sessions import Session
from registry.projects.models import Procedure, Project, Severity

_PERSON = settings.AUTH_USER_MODEL


def days_late(happened_at: datetime, recorded_at: datetime) -> int:
    """Give the whole days between what happened and when it was recorded."""
    return max(0, (recorded_at - happened_at).days)


class UseQuerySet(models.QuerySet["Use"]):
    """Reads of uses."""

    def told(self) -> "UseQuerySet":
        """Entries that tell of a use, those that take one back left out.

        Said so that no index serves: nearly every use reverses nothing, and SQLite, which takes
        that to be rare, would look through them all.
        """
        return self.alias(taken_back=Coalesce("reverses", 0)).filter(taken_back=0)

    def standing(self) -> "UseQuerySet":
        """Uses that no later entry reversed, reversing entries themselves left out."""
        later = Use.objects.filter(reverses=OuterRef("pk"))
        return self.told().filter(~Exists(later))

    def known_by(self, moment: Any) -> "UseQuerySet":
        """Uses as they were known then: recorded by it, and not reversed by it."""
        later = Use.objects.filter(reverses=OuterRef("pk"), recorded_at__lte=moment)
        return self.told().filter(~Exists(later), recorded_at__lte=moment)


class Use(models.Model):
    """One contact with, or observation of, an animal or some of a group; never edited."""

    kind: ClassVar[str] = "use"
    lifecycle: ClassVar[Lifecycle] = USE
    state_reads: ClassVar[tuple[str, ...]] = ("reversed_by",)
    reach: ClassVar[dict[str, str]] = IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="uses")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    number = models.PositiveIntegerField(default=1)
    enrolment = models.ForeignKey(
        Enrolment, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    session = models.ForeignKey(
        Session, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="uses")
    place = models.ForeignKey(
        Enclosure, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    # Kept, not reckoned: both moments are fixed, and the auditor asks it of every use at once.
    days_late = models.PositiveIntegerField(
        default=0, help_text="Whole days between what happened and when it was recorded."
    )
    recorded_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="uses_recorded")
    severity = models.PositiveSmallIntegerField(
        "actual severity", choices=Severity, default=Severity.SUB_THRESHOLD
    )
    note = models.TextField(blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )

    objects = UseQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["-happened_at", "-pk"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["happened_at"]),
            models.Index(fields=["recorded_at"]),
            models.Index(fields=["days_late"]),
            models.Index(fields=["animal", "happened_at"]),
            models.Index(fields=["group", "happened_at"]),
            # All that counting asks of a use: the map of a year reads this and no row.
            models.Index(
                fields=[
                    *("procedure", "happened_at", "recorded_at"),
                    *("reverses", "animal", "group", "number"),
                ],
                name="use_counted",
            ),
        ]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="use_of_one")
        ]

    def __str__(self) -> str:
        return f"{self.procedure} of {self.subject}"

    @property
    def subject(self) -> Any:
        """The animal or the group."""
        return self.animal or self.group

    @property
    def is_late(self) -> bool:
        """Whether it was recorded later than the house allows: a finding for the auditor."""
        return self.days_late > settings.LATE_ENTRY_DAYS

    @property
    def state(self) -> str:
        """Whether it stands; computed, for a use is never edited."""
        if self.reverses_id is not None:
            return "reversing"
        return "reversed" if hasattr(self, "reversed_by") else USE.first

    def get_absolute_url(self) -> str:
        """Give the address of the use's page."""
        return f"/oversight/uses/{self.pk}/"
