"""Sessions: stretches of observation or work, planned and then held or missed."""

from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from registry.animals.models import Enclosure
from registry.lifecycle import Lifecycle
from registry.moments import after, begin
from registry.oversight.lifecycle import SESSION
from registry.oversight.models.bookings import IN_PROJECT, Enrolment
from registry.projects.models import Project

_PERSON = settings.AUTH_USER_MODEL


class SessionQuerySet(models.QuerySet["Session"]):
    """Reads of sessions."""

    def on_day(self, day: Any) -> "SessionQuerySet":
        """Sessions planned for this day."""
        return self.filter(planned_start__gte=begin(day), planned_start__lt=after(day))


class Session(models.Model):
    """A stretch of observation or work at one enclosure, planned and then held or missed."""

    kind: ClassVar[str] = "session"
    lifecycle: ClassVar[Lifecycle] = SESSION
    reach: ClassVar[dict[str, str]] = IN_PROJECT

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
