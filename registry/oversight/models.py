"""Bookings, enrolments, sessions, uses of animals, breaches, concerns and audits."""

from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group, one_of
from registry.approvals.models import Approval
from registry.lifecycle import Lifecycle
from registry.moments import after, begin
from registry.oversight.lifecycle import BOOKING, BREACH, CONCERN, ENROLMENT, POINT, SESSION, USE
from registry.projects.models import Arm, Procedure, Project, Severity

_PERSON = settings.AUTH_USER_MODEL
_IN_PROJECT: dict[str, str] = {"project": "project"}


class Booking(models.Model):
    """Animals, places and dates that the curator offers to a project."""

    kind: ClassVar[str] = "booking"
    lifecycle: ClassVar[Lifecycle] = BOOKING
    reach: ClassVar[dict[str, str]] = _IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="bookings")
    asked_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="bookings_asked")
    asked_at = models.DateTimeField(default=timezone.now)
    wish = models.TextField(help_text="Which animals, how many, and why these.")
    starts_on = models.DateField()
    ends_on = models.DateField()
    max_contacts_each = models.PositiveIntegerField(
        "contacts with each animal at most", null=True, blank=True
    )
    places = models.ManyToManyField(Enclosure, related_name="bookings", blank=True)
    note = models.TextField(blank=True)
    released_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=BOOKING.choices, default=BOOKING.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-asked_at", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(ends_on__gte=models.F("starts_on")), name="booking_ends_after_start"
            )
        ]

    def __str__(self) -> str:
        return f"booking {self.pk} for {self.project}"

    def get_absolute_url(self) -> str:
        """Give the address of the booking's page."""
        return f"/oversight/bookings/{self.pk}/"


class BookedSubject(models.Model):
    """An animal, or so many of a group, in a booking."""

    kind: ClassVar[str] = "booked_subject"
    reach: ClassVar[dict[str, str]] = {"project": "booking__project"}

    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="subjects")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="booked"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="booked"
    )
    number = models.PositiveIntegerField(default=1)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="booked_one"),
            models.UniqueConstraint(fields=["booking", "animal"], name="animal_booked_once"),
            models.UniqueConstraint(fields=["booking", "group"], name="group_booked_once"),
        ]

    def __str__(self) -> str:
        return str(self.animal or f"{self.number} of {self.group}")


class EnrolmentQuerySet(models.QuerySet["Enrolment"]):
    """Reads of enrolments."""

    def live_on(self, day: Any) -> "EnrolmentQuerySet":
        """Enrolments whose animals are in the project on this day."""
        return self.filter(from_on__lte=day).filter(Q(left_on=None) | Q(left_on__gte=day))


class Enrolment(models.Model):
    """An animal (or some of a group) in a project, under the code by which its data name it."""

    kind: ClassVar[str] = "enrolment"
    searched: ClassVar[tuple[str, ...]] = ("subject", "unit", "project")
    search_keys: ClassVar[tuple[str, ...]] = ("code",)
    lifecycle: ClassVar[Lifecycle] = ENROLMENT
    reach: ClassVar[dict[str, str]] = _IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="enrolments")
    booking = models.ForeignKey(Booking, on_delete=models.PROTECT, related_name="enrolments")
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="enrolments"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="enrolments"
    )
    number = models.PositiveIntegerField(default=1)
    code = models.CharField(max_length=40, help_text="How the data name it.")
    arm = models.ForeignKey(
        Arm, on_delete=models.PROTECT, null=True, blank=True, related_name="enrolments"
    )
    unit = models.CharField(
        "experimental unit", max_length=40, blank=True, help_text="The tank, tray or pair."
    )
    from_on = models.DateField()
    enrolled_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="enrolled")
    recorded_at = models.DateTimeField(default=timezone.now)
    left_on = models.DateField(null=True, blank=True)
    left_recorded_at = models.DateTimeField(null=True, blank=True)
    actual_severity = models.PositiveSmallIntegerField(
        choices=Severity, null=True, blank=True, help_text="The highest that it went through."
    )
    state = models.CharField(max_length=20, choices=ENROLMENT.choices, default=ENROLMENT.first)

    objects = EnrolmentQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["project", "code"]
        indexes: ClassVar[list[models.Index]] = [
            models.Index(fields=["from_on"], condition=Q(state="enrolled"), name="enrolled_from"),
        ]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=one_of("animal", "group"), name="enrolment_of_one"),
            models.UniqueConstraint(fields=["project", "code"], name="one_enrolment_of_a_code"),
            models.UniqueConstraint(
                fields=["project", "animal"],
                condition=Q(state="enrolled") & Q(animal__isnull=False),
                name="animal_enrolled_once_in_a_project",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def subject(self) -> Any:
        """The animal or the group."""
        return self.animal or self.group

    def get_absolute_url(self) -> str:
        """Give the address of the enrolment's page."""
        return f"/oversight/enrolments/{self.pk}/"


class SessionQuerySet(models.QuerySet["Session"]):
    """Reads of sessions."""

    def on_day(self, day: Any) -> "SessionQuerySet":
        """Sessions planned for this day."""
        return self.filter(planned_start__gte=begin(day), planned_start__lt=after(day))


class Session(models.Model):
    """A stretch of observation or work at one enclosure, planned and then held or missed."""

    kind: ClassVar[str] = "session"
    lifecycle: ClassVar[Lifecycle] = SESSION
    reach: ClassVar[dict[str, str]] = _IN_PROJECT

    class Medium(models.TextChoices):
        """Where noise was measured; levels in air and in water are never compared."""

        AIR = "air", "air, dB re 20 µPa"
        WATER = "water", "water, dB re 1 µPa"

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="sessions")
    code = models.CharField(max_length=40, help_text="How the data name it.")
    place = models.ForeignKey(Enclosure, on_delete=models.PROTECT, related_name="sessions")
    planned_start = models.DateTimeField()
    planned_end = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)
    observers = models.ManyToManyField(
        settings.AUTH_USER_MODEL, related_name="sessions", blank=True
    )
    enrolments = models.ManyToManyField(Enrolment, related_name="sessions", blank=True)
    visitors = models.PositiveIntegerField("visitors counted", null=True, blank=True)
    noise_db = models.FloatField("noise, dB", null=True, blank=True)
    noise_medium = models.CharField(max_length=10, choices=Medium, blank=True)
    notes = models.TextField(blank=True)
    missing_reason = models.TextField(blank=True)
    made_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="sessions_planned")
    state = models.CharField(max_length=20, choices=SESSION.choices, default=SESSION.first)

    objects = SessionQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["planned_start", "pk"]
        indexes: ClassVar[list[models.Index]] = [models.Index(fields=["planned_start"])]
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["project", "code"], name="one_session_of_a_code"),
            models.CheckConstraint(
                condition=Q(planned_end__gt=models.F("planned_start")),
                name="session_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """Give the address of the session's page."""
        return f"/oversight/sessions/{self.pk}/"


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
    reach: ClassVar[dict[str, str]] = _IN_PROJECT

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


class Breach(models.Model):
    """Something that happened outside a limit; to be explained, never hidden."""

    kind: ClassVar[str] = "breach"
    lifecycle: ClassVar[Lifecycle] = BREACH
    reach: ClassVar[dict[str, str]] = {**_IN_PROJECT, "body": "approval__body"}

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="breaches")
    code = models.CharField(max_length=40)
    said = models.TextField("what happened, and the limit that it passed")
    approval = models.ForeignKey(
        Approval, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    use = models.ForeignKey(
        Use, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    session = models.ForeignKey(
        Session, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    # A plain number: the deposit stands in a higher slice.
    deposit_number = models.PositiveBigIntegerField(null=True, blank=True)
    # Whom it concerns, where that is known; what data say of a code that was never enrolled is not.
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches"
    )
    happened_on = models.DateField(null=True, blank=True)
    found_at = models.DateTimeField(default=timezone.now)
    explanation = models.TextField(blank=True)
    explained_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="breaches_explained"
    )
    explained_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=BREACH.choices, default=BREACH.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-found_at", "-pk"]
        verbose_name_plural = "breaches"

    def __str__(self) -> str:
        return f"breach {self.pk}"

    @property
    def subject(self) -> Any:
        """The animal or the group that it concerns, where that is known."""
        return self.animal or self.group

    @property
    def limit_said(self) -> str:
        """The kind of limit that was passed, in words."""
        return self.code.replace("-", " ")

    def get_absolute_url(self) -> str:
        """Give the address of the breach's page."""
        return f"/oversight/breaches/{self.pk}/"


class Concern(models.Model):
    """A worry that anyone may raise, by name or not; seen only by those who handle it."""

    kind: ClassVar[str] = "concern"
    lifecycle: ClassVar[Lifecycle] = CONCERN
    reach: ClassVar[dict[str, str]] = {"named": "named", "raiser": "raiser"}

    text = models.TextField()
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="concerns"
    )
    project = models.ForeignKey(
        Project, on_delete=models.PROTECT, null=True, blank=True, related_name="concerns"
    )
    named = models.ForeignKey(
        _PERSON,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="concerns_about",
        help_text="If it is about a person, that person will not see it.",
    )
    raiser = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="concerns_raised"
    )
    follow_up_digest = models.CharField(max_length=64, blank=True)
    raised_at = models.DateTimeField(default=timezone.now)
    outcome = models.TextField(blank=True)
    state = models.CharField(max_length=20, choices=CONCERN.choices, default=CONCERN.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["-raised_at", "-pk"]

    def __str__(self) -> str:
        return f"concern {self.pk}"

    def get_absolute_url(self) -> str:
        """Give the address of the concern's page."""
        return f"/oversight/concerns/{self.pk}/"


class Audit(models.Model):
    """A review of the record by an auditor."""

    kind: ClassVar[str] = "audit"
    reach: ClassVar[dict[str, str]] = {"opener": "opener"}
    searched: ClassVar[tuple[str, ...]] = ("scope",)

    title = models.CharField(max_length=200)
    scope = models.TextField()
    opener = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="audits")
    opened_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering: ClassVar[list[str]] = ["-opened_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        """Give the address of the audit's page."""
        return f"/oversight/audits/{self.pk}/"


class Point(models.Model):
    """A point of an audit that someone must answer."""

    kind: ClassVar[str] = "point"
    lifecycle: ClassVar[Lifecycle] = POINT
    reach: ClassVar[dict[str, str]] = {"addressee": "addressee"}

    audit = models.ForeignKey(Audit, on_delete=models.PROTECT, related_name="points")
    text = models.TextField()
    breach = models.ForeignKey(
        Breach, on_delete=models.PROTECT, null=True, blank=True, related_name="points"
    )
    addressee = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="points")
    written_at = models.DateTimeField(default=timezone.now)
    answer = models.TextField(blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=20, choices=POINT.choices, default=POINT.first)

    class Meta:
        ordering: ClassVar[list[str]] = ["pk"]

    def __str__(self) -> str:
        return f"point {self.pk} of {self.audit}"

    def get_absolute_url(self) -> str:
        """Give the address of the point's page."""
        return f"/oversight/points/{self.pk}/"
