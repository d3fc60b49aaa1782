"""What went otherwise than planned, and what the work costs the keepers."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, Group
from registry.lifecycle import Lifecycle
from registry.oversight.lifecycle import ADVERSE_EVENT
from registry.oversight.models.bookings import IN_PROJECT, Enrolment
from registry.projects.models import Project, Severity

_PERSON = settings.AUTH_USER_MODEL


class Course(models.TextChoices):
    """What is decided after a look at an animal; only a vet and a body restart what was stopped."""

    CONTINUE = "continue", "continue"
    WATCH = "watch", "watch more closely"
    INTERVENE = "intervene", "intervene"
    WITHDRAW = "withdraw", "withdraw the animal"
    STOP = "stop", "stop the project"


class AdverseEvent(models.Model):
    """Harm that came to an animal in a project, foreseen or not; a vet assesses it."""

    kind: ClassVar[str] = "adverse_event"
    lifecycle: ClassVar[Lifecycle] = ADVERSE_EVENT
    reach: ClassVar[dict[str, str]] = {**IN_PROJECT, "body": "project__approvals__body"}

    class Sort(models.TextChoices):
        """What came about."""

        INJURY = "injury", "injury"
        ILLNESS = "illness", "illness"
        DISTRESS = "distress", "distress"
        DEATH = "death", "death"
        ESCAPE = "escape", "escape or jumping out"
        EQUIPMENT = "equipment", "failure of equipment"
        OTHER = "other", "something else"

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="adverse_events")
    enrolment = models.ForeignKey(
        Enrolment, on_delete=models.PROTECT, null=True, blank=True, related_name="adverse_events"
    )
    animal = models.ForeignKey(
        Animal, on_delete=models.PROTECT, null=True, blank=True, related_name="adverse_events"
    )
    group = models.ForeignKey(
        Group, on_delete=models.PROTECT, null=True, blank=True, related_name="adverse_events"
    )
    sort = models.CharField("what came about", max_length=20, choices=Sort)
    text = models.TextField("what happened, and what was done")
    is_expected = models.BooleanField("foreseen in the plan", default=False)
    end_point = models.CharField("humane end-point reached", max_length=300, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField(default=timezone.now)
    reported_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="events_reported"
    )
    severity = models.PositiveSmallIntegerField(
        "actual severity", choices=Severity, null=True, blank=True
    )
    course = models.CharField("decision", max_length=20, choices=Course, blank=True)
    assessment = models.TextField(blank=True)
    assessed_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, null=True, blank=True, related_name="events_assessed"
    )
    assessed_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(
        max_length=20, choices=ADVERSE_EVENT.choices, default=ADVERSE_EVENT.first
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["-happened_at", "-pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(animal__isnull=True) | Q(group__isnull=True),
                name="adverse_event_of_one",
            )
        ]

    def __str__(self) -> str:
        return f"adverse event {self.pk}"

    @property
    def subject(self) -> Any:
        """The animal or the group, where one was named."""
        return self.animal or self.group

    def get_absolute_url(self) -> str:
        """Give the address of the event's page."""
        return f"/oversight/events/{self.pk}/"


class Deviation(models.Model):
    """What was done otherwise than the plan says, why, and what that does to animals and data."""

    kind: ClassVar[str] = "deviation"
    reach: ClassVar[dict[str, str]] = IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="deviations")
    text = models.TextField("what was done otherwise")
    why = models.TextField("why")
    effect = models.TextField("what it does to the animals and the data", blank=True)
    happened_on = models.DateField()
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(
        _PERSON, on_delete=models.PROTECT, related_name="deviations_recorded"
    )

    class Meta:
        ordering: ClassVar[list[str]] = ["happened_on", "pk"]

    def __str__(self) -> str:
        return f"deviation {self.pk}"


class KeeperTime(models.Model):
    """Keeper time that a project took on a day; a wrong entry is taken back by minutes below 0."""

    kind: ClassVar[str] = "keeper_time"
    reach: ClassVar[dict[str, str]] = IN_PROJECT

    project = models.ForeignKey(Project, on_delete=models.PROTECT, related_name="keeper_times")
    minutes = models.SmallIntegerField(help_text="Of all keepers together.")
    happened_on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    recorded_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(_PERSON, on_delete=models.PROTECT, related_name="times_logged")

    class Meta:
        ordering: ClassVar[list[str]] = ["happened_on", "pk"]

    def __str__(self) -> str:
        return f"{self.minutes} min on {self.happened_on}"
