"""Bookings of animals, places and dates, and enrolments under them."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group, LifeStage, one_of
from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import BOOKING, ENROLMENT
from registry.projects.models import Arm, Project, Severity

_PERSON = settings.AUTH_USER_MODEL
IN_PROJECT: dict[str, str] = {"project": "project"}


class Booking(models.Model):
    """Animals, places and dates that the curator offers to a project."""

    kind: ClassVar[str] = "booking"
    lifecycle: ClassVar[Lifecycle] = BOOKING
    reach: ClassVar[dict[str, str]] = IN_PROJECT

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
    reach: ClassVar[dict[str, str]] = IN_PROJECT

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
    life_stage = models.CharField(
        "stage when it entered", max_length=20, choices=LifeStage, blank=True
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
