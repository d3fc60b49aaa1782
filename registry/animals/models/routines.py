"""What goes on at an enclosure every week: feeding, talks, cleaning; no session fits there."""

from datetime import date
from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from registry.animals.models.places import Enclosure


class RoutineQuerySet(models.QuerySet["Routine"]):
    """Reads of routines."""

    def standing_between(self, first: date, last: date) -> "RoutineQuerySet":
        """Routines that stood on some of these days."""
        return self.filter(began_on__lte=last).filter(Q(ended_on=None) | Q(ended_on__gt=first))


class Routine(models.Model):
    """Something that happens at an enclosure on the same weekday at the same time."""

    kind: ClassVar[str] = "routine"

    class Sort(models.TextChoices):
        """What it is."""

        FEEDING = "feeding", "feeding"
        TALK = "talk", "talk"
        CLEANING = "cleaning", "cleaning"
        TRAINING = "training", "training"
        OTHER = "other", "something else"

    class Weekday(models.IntegerChoices):
        """The day of the week, as ISO 8601 counts it."""

        MONDAY = 1, "Monday"
        TUESDAY = 2, "Tuesday"
        WEDNESDAY = 3, "Wednesday"
        THURSDAY = 4, "Thursday"
        FRIDAY = 5, "Friday"
        SATURDAY = 6, "Saturday"
        SUNDAY = 7, "Sunday"

    enclosure = models.ForeignKey(Enclosure, on_delete=models.PROTECT, related_name="routines")
    sort = models.CharField(max_length=20, choices=Sort)
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    begins = models.TimeField()
    ends = models.TimeField()
    note = models.CharField(max_length=200, blank=True)
    began_on = models.DateField(default=timezone.localdate)
    ended_on = models.DateField(null=True, blank=True)

    objects = RoutineQuerySet.as_manager()

    class Meta:
        ordering: ClassVar[list[str]] = ["weekday", "begins", "pk"]
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=Q(ends__gt=F("begins")), name="routine_ends_after")
        ]

    def is_on(self, day: date) -> bool:
        """Say whether it went on, or goes on, on this day."""
        is_begun = self.began_on <= day and (self.ended_on is None or day < self.ended_on)
        return is_begun and self.weekday == day.isoweekday()

    def __str__(self) -> str:
        said = f"{self.get_sort_display()}, {self.get_weekday_display()}"
        return f"{said} {self.begins:%H:%M} to {self.ends:%H:%M}"
