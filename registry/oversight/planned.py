"""Why sessions of a schedule that are to come cannot be planned."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.utils import timezone

from registry.animals.models import Animal, Enclosure, Group, Restriction
from registry.oversight.bars import planned_of
from registry.oversight.bars.restrictions import biting, overlapping, restriction_said
from registry.oversight.facts import Permits, event_of
from registry.oversight.limits import NeededFacts, uncovered
from registry.oversight.models import Booking, Enrolment
from registry.oversight.papers import untrained
from registry.people.models import Person
from registry.projects.achieved import Due
from registry.projects.models import Project


class Planning:
    """What planning sessions of a project at one place is held against, read once for all days.

    As many queries for a hundred sessions as for one. Days lie ahead: animals are where they live
    now, and a restriction without an end bars each day from its beginning on.
    """

    def __init__(self, project: Project, place: Enclosure, watchers: Sequence[Person]) -> None:
        self._project, self._place, self._watchers = project, place, watchers
        self._permits, self._procedures = Permits(project), planned_of(project)
        self._needed: dict[date, tuple[NeededFacts, ...]] = {}
        rows = Enrolment.objects.filter(project=project, state="enrolled").order_by("pk")
        self._enrolled = list(rows.select_related("animal__taxon", "group__taxon"))
        self._named: dict[str, list[Enrolment]] = {}
        for one in self._enrolled:
            subject = one.subject
            for name in dict.fromkeys([one.code, subject.code, subject.name]):
                self._named.setdefault(name.casefold(), []).append(one)
        self._booked = list(
            Booking.objects.filter(project=project, state="confirmed", places=place).values_list(
                "starts_on", "ends_on"
            )
        )
        self._bars = self._read_bars()

    def _read_bars(self) -> list[Restriction]:
        subjects = [one.subject for one in self._enrolled]
        animals = [one for one in subjects if isinstance(one, Animal)]
        groups = [one for one in subjects if isinstance(one, Group)]
        rows = Restriction.objects.barring(animals, groups).filter(
            overlapping(timezone.localdate(), date.max)
        )
        found = rows.select_related("animal", "group", "enclosure")
        # Watching stays open under “observation only”; what is done is judged when it is held.
        return biting(found, self._project, is_contact=False)

    def strangers(self, dues: Sequence[Due]) -> list[str]:
        """Give the names of a schedule by which no enrolled animal goes, each once."""
        names = dict.fromkeys(name for one in dues for name in one.order)
        return [name for name in names if name.casefold() not in self._named]

    def enrolments(self, due: Due) -> list[Enrolment]:
        """Give the enrolments of those whom a session watches."""
        return [self._named[name.casefold()][-1] for name in due.order]

    def why_not(self, due: Due) -> list[str]:
        """Say why a session cannot be planned; nothing where it can."""
        day, chosen = due.day, self.enrolments(due)
        said = []
        last = due.ends.date()
        if not any(first <= day and last <= until for first, until in self._booked):
            said.append(f"No confirmed booking of this project has {self._place} then.")
        absent = [one.code for one in chosen if one.from_on > day]
        if absent:
            said.append(f"{', '.join(absent)}: not enrolled yet.")
        said += self._uncovered(day, chosen) + self._barred(day, chosen)
        return list(dict.fromkeys(said))

    def _uncovered(self, day: date, chosen: Sequence[Enrolment]) -> list[str]:
        if day not in self._needed:
            self._needed[day] = self._permits.on(day, self._watchers)
        needed = self._needed[day]
        events = [
            event_of(
                one.subject,
                project=self._project,
                day=day,
                procedure=None,
                place=self._place,
                people=self._watchers,
                enrolment=one.pk,
            )
            for one in chosen
        ]
        said = [short.said for event in events for short in uncovered(event, needed, {})]
        return said + untrained(needed, day, self._procedures)

    def _barred(self, day: date, chosen: Sequence[Enrolment]) -> list[str]:
        subjects: list[Any] = [one.subject for one in chosen]
        return [
            restriction_said(bar)
            for bar in self._bars
            if bar.began_on <= day
            and (bar.ended_on is None or day < bar.ended_on)
            and any(_is_on(bar, one) for one in subjects)
        ]


def _is_on(bar: Restriction, subject: Any) -> bool:
    if bar.enclosure_id is not None:
        return bool(bar.enclosure_id == subject.enclosure_id)
    held = bar.animal_id if isinstance(subject, Animal) else bar.group_id
    return bool(held == subject.pk)
