"""The life of an animal or a group, drawn: where it lived, what barred it, what it was used for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Max, Q, QuerySet, Sum
from django.db.models.functions import TruncDate
from django.utils import timezone

from registry.animals.models import PLACING, Animal, Enclosure, Event, Group, Restriction
from registry.drawings import LifeStrip, Moment, Shape, Span, Tone, life_strip
from registry.permissions import Verb, allowed

LANES = ("Lives in", "Keep off", "Enrolled", "Uses", "Events")
WORDS: dict[str, str] = {
    Tone.PALE: "lives here",
    Tone.FINE: "observation only",
    Tone.HATCHED: "keep off",
    Tone.SOLID: "enrolled",
    Shape.TICK: "uses, hands-on or watched",
    Shape.DOT: "events",
}
LOAD_D = (7, 28, 365)
"""Windows in which contacts are summed, in days; the house's own choice, no source."""


@dataclass(frozen=True)
class Residence:
    """A stretch of days in one enclosure; the last one is open while the animal is here."""

    enclosure: Enclosure
    begun_on: date
    ended_on: date | None
    by: str


def events_of(subject: Animal | Group) -> list[Event]:
    """Give every event in the order of its day, also what was taken back; one query.

    What takes an event back happened to the same record, so it stands in the list already: a join
    would have SQLite look through all events, of which nearly none takes another back.
    """
    rows = subject.events.select_related("enclosure", "recorded_by")
    events = list(rows.order_by("happened_on", "pk"))
    reversing = {event.reverses_id: event for event in events if event.reverses_id is not None}
    link: Any = Event._meta.get_field("reversed_by")
    for event in events:
        link.set_cached_value(event, reversing.get(event.pk))
    return events


def is_standing(event: Event) -> bool:
    """Say whether an event was neither taken back nor takes another back."""
    return event.reverses_id is None and not hasattr(event, "reversed_by")


def residences(subject: Animal | Group, events: Sequence[Event]) -> list[Residence]:
    """Give where it lived, oldest first, from its standing events."""
    placed = [event for event in events if event.sort in PLACING and is_standing(event)]
    placed = [one for one in placed if one.enclosure is not None or one.sort == Event.Sort.SENT]
    ends: list[date | None] = [event.happened_on for event in placed[1:]]
    return [
        Residence(event.enclosure, event.happened_on, ended_on, event.recorded_by.name)
        for event, ended_on in zip(placed, [*ends, subject.left_on], strict=False)
        if event.enclosure is not None
    ]


def restrictions_of(
    subject: Animal | Group, homes: Sequence[Residence]
) -> QuerySet[Restriction, Restriction]:
    """Give its own restrictions and those that were on an enclosure while it lived there."""
    here = Q(**{str(subject.kind): subject})
    for home in homes:
        overlap = Q(enclosure=home.enclosure) & (Q(ended_on=None) | Q(ended_on__gte=home.begun_on))
        if home.ended_on is not None:
            overlap &= Q(began_on__lte=home.ended_on)
        here |= overlap
    return Restriction.objects.filter(here).select_related("enclosure", "begun_by", "ended_by")


def days_on(restriction: Restriction, homes: Sequence[Residence]) -> list[tuple[date, date | None]]:
    """Give the days on which a restriction was on it; its enclosure's, while it was there.

    The second day is the first that is free again, or None while the restriction lasts.
    """
    begun, ended = restriction.began_on, restriction.ended_on
    if restriction.enclosure_id is None:
        return [(begun, ended)]
    spans = []
    for home in homes:
        if home.enclosure.pk != restriction.enclosure_id:
            continue
        first = max(begun, home.begun_on)
        last = min((day for day in (ended, home.ended_on) if day is not None), default=None)
        if last is None or first < last:
            spans.append((first, last))
    return spans


def barred_days_of(subject: Animal | Group) -> list[tuple[Restriction, date, date | None]]:
    """Give every restriction that was ever on it, with its days, by where it then lived.

    An enclosure's restriction comes once for each stay in that enclosure. Three queries.
    """
    homes = residences(subject, events_of(subject))
    return [
        (restriction, begun, ended)
        for restriction in restrictions_of(subject, homes)
        for begun, ended in days_on(restriction, homes)
    ]


def _homes(homes: Sequence[Residence]) -> list[Span]:
    return [
        Span(
            "Lives in",
            home.begun_on,
            home.ended_on,
            Tone.PALE,
            home.enclosure.name,
            what=f"Lives in {home.enclosure.name}",
            by=home.by,
            url=home.enclosure.get_absolute_url(),
        )
        for home in homes
    ]


def _restricted(found: Sequence[Restriction], homes: Sequence[Residence]) -> list[Span]:
    return [
        Span(
            "Keep off",
            begun,
            ended,
            Tone.FINE if restriction.bars_contact_only else Tone.HATCHED,
            restriction.get_sort_display(),
            what=f"Restriction: {restriction.get_sort_display()}",
            detail=(f"on {restriction.enclosure}" if restriction.enclosure else restriction.note),
            by=restriction.begun_by.name,
            url=restriction.get_absolute_url(),
        )
        for restriction in found
        for begun, ended in days_on(restriction, homes)
    ]


def _enrolled(subject: Animal | Group, person: Any) -> list[Span]:
    rows = allowed(subject.enrolments.all(), person, Verb.ENROLMENT_SEE)
    return [
        Span(
            "Enrolled",
            row.from_on,
            row.left_on,
            Tone.SOLID,
            str(row.project),
            what=f"Enrolled: {row.project}",
            detail=f"as {row.code}" + (f", {row.arm}" if row.arm else ""),
            by=row.enrolled_by.name,
            url=row.get_absolute_url(),
        )
        for row in rows.select_related("project__study", "enrolled_by", "arm")
    ]


def _used(subject: Animal | Group, person: Any) -> list[Moment]:
    """Give one mark a day, procedure and project: a session of scans is one fact."""
    rows = allowed(subject.uses.standing(), person, Verb.USE_SEE)
    facts = (
        rows.annotate(on=TruncDate("happened_at"))
        .order_by("on")
        .values(
            "on",
            "procedure__name",
            "procedure__is_contact",
            "project__study__title",
            "project__cohort",
        )
        .annotate(
            times=Count("pk"),
            by=Max("recorded_by__name"),
            recorders=Count("recorded_by", distinct=True),
        )
    )
    return [
        Moment(
            "Uses",
            fact["on"],
            Shape.TICK,
            what=fact["procedure__name"] + (", hands-on" * fact["procedure__is_contact"]),
            detail=f"{fact['project__study__title']}, {fact['project__cohort']}"
            + (f"; {fact['times']} times" if fact["times"] > 1 else ""),
            by=fact["by"] if fact["recorders"] == 1 else f"{fact['recorders']} people",
        )
        for fact in facts
    ]


def change_said(event: Event) -> str:
    """Write by how many an event changed a group: +0 males, -1 females as `0.-1.0`."""
    if event.group_id is None or not (event.males or event.females or event.unknown):
        return ""
    return ".".join(f"{n:+d}" if n else "0" for n in (event.males, event.females, event.unknown))


def _happened(events: Sequence[Event]) -> list[Moment]:
    moments = []
    for event in events:
        if not is_standing(event):
            continue
        at = f" in {event.enclosure}" if event.enclosure else ""
        change = change_said(event)
        moments.append(
            Moment(
                "Events",
                event.happened_on,
                Shape.DOT,
                event.get_sort_display(),
                what=f"{event.get_sort_display().capitalize()}{f' {change}' if change else ''}",
                detail=event.note or at.strip(),
                by=event.recorded_by.name,
            )
        )
    return moments


def life_of(
    subject: Animal | Group,
    person: Any,
    *,
    events: Sequence[Event],
    homes: Sequence[Residence],
    restrictions: Sequence[Restriction],
) -> LifeStrip:
    """Draw the life of an animal or a group, as far as this person may see it."""
    today = timezone.localdate()
    return life_strip(
        str(subject),
        LANES,
        [
            *_homes(homes),
            *_restricted(restrictions, homes),
            *_enrolled(subject, person),
        ],
        [*_used(subject, person), *_happened(events)],
        subject.arrived_on,
        subject.left_on or today,
        today,
        WORDS,
    )


def load_of(subject: Animal | Group) -> list[tuple[int, int]]:
    """Give the hands-on contacts in the last 7, 28 and 365 days, whoever made them.

    A day counts as one of the last seven when it is today or one of the six before.
    """
    today = timezone.localdate()
    contacts = subject.uses.standing().filter(procedure__is_contact=True)
    sums = contacts.annotate(on=TruncDate("happened_at")).aggregate(
        **{
            f"last_{days}": Count(
                "pk",
                filter=Q(on__gt=today - timedelta(days=days), on__lte=today),
            )
            for days in LOAD_D
        }
    )
    return [(days, sums[f"last_{days}"]) for days in LOAD_D]


def uses_by_project(subject: Animal | Group, person: Any) -> list[dict[str, Any]]:
    """Give how often each project used it, hands-on and watched, as far as this person may see."""
    rows = allowed(subject.uses.standing(), person, Verb.USE_SEE)
    found: Any = (
        rows.order_by("project__study__title", "project__cohort")
        .values("project", "project__study__title", "project__cohort")
        .annotate(
            contacts=Count("pk", filter=Q(procedure__is_contact=True)),
            watched=Count("pk", filter=Q(procedure__is_contact=False)),
            animals=Sum("number"),
            last=Max("happened_at"),
        )
    )
    return list(found)
