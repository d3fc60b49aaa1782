"""The sessions of a day as they are worked through: what to check, and the blank sheet."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from archive.dictionaries import tables_of
from archive.facts import planned_every_s
from archive.models import Dictionary
from archive.sheets import Sheet, Stretch, Watched, blank_sheet
from registry.animals.models import Mark, Restriction
from registry.approvals.standing import NeedsOf
from registry.desk.forms import HeldHere, MissedHere
from registry.moments import after, begin
from registry.oversight.bars import restriction_said
from registry.oversight.models import Enrolment, Session
from registry.permissions import Verb, allowed
from registry.projects.cautions import on_show_cautions, procedure_cautions
from registry.projects.models import Project

SOON, MOST_LATE = 10, 20
_SUBJECTS = ("animal__taxon", "animal__enclosure", "group__taxon", "group__enclosure")


def full() -> QuerySet[Session]:
    """Give sessions with all that their cards show; some ten queries for any number."""
    marks = Prefetch("animal__marks", Mark.objects.filter(ended_on=None), to_attr="live_marks")
    enrolments = (
        Enrolment.objects.select_related(*_SUBJECTS).prefetch_related(marks).order_by("code")
    )
    return Session.objects.select_related(
        "project__study", "project__plan", "place"
    ).prefetch_related(
        "observers",
        Prefetch("enrolments", enrolments),
        "project__plan__procedures",
        "project__plan__places",
    )


@dataclass(frozen=True)
class Card:
    """One session with what to check before it, and the forms that enter it."""

    session: Session
    enrolments: list[Enrolment]
    procedures: list[Any]
    cautions: list[Any]
    tables: list[dict[str, Any]]
    lacking: list[str] = field(default_factory=list)
    restrictions: dict[int, list[str]] = field(default_factory=dict)
    barred_place: list[str] = field(default_factory=list)
    is_mine: bool = False

    @property
    def stops(self) -> list[str]:
        """What forbids to begin, in sentences; none where all is well."""
        found = []
        if (project := self.session.project).state != "collecting":
            found.append(f"The project is {project.get_state_display()}: nothing is collected now.")
        found += [f"Not live: {said}." for said in self.lacking]
        found += self.barred_place
        said = [words for bars in self.restrictions.values() for words in bars]
        return found + [one for one in dict.fromkeys(said) if one not in self.barred_place]

    @property
    def rows(self) -> list[tuple[Enrolment, list[Any], list[str]]]:
        """Each animal with its marks and with what bars it today."""
        return [
            (one, getattr(one.animal, "live_marks", []), self.restrictions.get(one.pk, []))
            for one in self.enrolments
        ]

    @property
    def held(self) -> HeldHere | None:
        """The form that enters it as held, where this person may and it is still planned."""
        return HeldHere(self.session, self.procedures, self.enrolments) if self.is_open else None

    @property
    def missed(self) -> MissedHere | None:
        """The form that says why it was not held."""
        return MissedHere(self.session) if self.is_mine and self.is_planned else None

    @property
    def is_planned(self) -> bool:
        """Whether it still waits."""
        return self.session.state == "planned"

    @property
    def is_open(self) -> bool:
        """Whether it can be entered here: it waits, and its plan says what may be done."""
        return self.is_mine and self.is_planned and bool(self.procedures)


@dataclass(frozen=True)
class Sessions:
    """Late, today's and the next sessions of a person."""

    late: list[Card]
    today: list[Card]
    coming: list[Card]


def sessions_of(person: Any, today: date) -> Sessions:
    """Give the sessions that a person may see: late ones of one's own, today's, and the next."""
    seen = allowed(full(), person, Verb.SESSION_SEE).order_by("planned_start", "pk")
    waiting = seen.filter(state="planned")
    late = list(
        allowed(waiting.filter(planned_start__lt=begin(today)), person, Verb.SESSION_HOLD)[
            : 2 * SOON
        ]
    )
    now = list(seen.filter(planned_start__gte=begin(today), planned_start__lt=after(today)))
    coming = list(waiting.filter(planned_start__gte=after(today))[:SOON])
    mine = set(
        allowed(
            Session.objects.filter(pk__in=[one.pk for one in [*late, *now]]),
            person,
            Verb.SESSION_HOLD,
        ).values_list("pk", flat=True)
    )
    make = _Maker([*late, *now, *coming], now, today, mine)
    return Sessions(*([make.card(one) for one in some] for some in (late, now, coming)))


class _Maker:
    """Reads once what the cards of many sessions share."""

    def __init__(
        self, sessions: Sequence[Session], now: Sequence[Session], today: date, mine: set[int]
    ) -> None:
        self.mine = mine
        self.tables = tables_by_study({one.project.study_id for one in sessions})
        projects = {one.project_id: one.project for one in now if one.pk in mine}
        self.lacking = {pk: NeedsOf(one).lacking_on(today) for pk, one in projects.items()}
        self.bars = _in_force(now, today)
        self.now = {one.pk for one in now}

    def card(self, session: Session) -> Card:
        """Give the card of one session; what bars is looked for on the day itself alone."""
        enrolments = list(session.enrolments.all())
        plan = getattr(session.project, "plan", None)
        procedures = list(plan.procedures.all()) if plan else []
        bars = self.bars if session.pk in self.now else []
        return Card(
            session=session,
            enrolments=enrolments,
            procedures=procedures,
            cautions=[
                *(on_show_cautions(plan.places.all(), procedures) if plan else []),
                *procedure_cautions(procedures),
            ],
            tables=self.tables.get(session.project.study_id, []),
            lacking=self.lacking.get(session.project_id, []),
            restrictions={
                one.pk: [restriction_said(bar) for bar in bars if bar.reaches(one.subject)]
                for one in enrolments
            },
            barred_place=[
                restriction_said(bar) for bar in bars if bar.enclosure_id == session.place_id
            ],
            is_mine=session.pk in self.mine,
        )


def _in_force(sessions: Sequence[Session], today: date) -> list[Restriction]:
    """Give what bars the animals, groups and places of some sessions today; one query."""
    enrolled = [one for session in sessions for one in session.enrolments.all()]
    animals = [one.animal for one in enrolled if one.animal]
    groups = [one.group for one in enrolled if one.group]
    places = {one.place_id for one in sessions}
    places |= {one.enclosure_id for one in animals if one.enclosure_id}
    places |= {one.enclosure_id for one in groups if one.enclosure_id}
    if not places:
        return []
    return list(
        Restriction.objects.in_force_on(today)
        .filter(Q(animal__in=animals) | Q(group__in=groups) | Q(enclosure__in=places))
        .select_related("animal", "group", "enclosure")
    )


# ------------------------------------------------------------------------------- the blank sheet


def tables_by_study(studies: Iterable[int]) -> dict[int, list[dict[str, Any]]]:
    """Give the tables of each study's newest dictionary."""
    found: dict[int, list[dict[str, Any]]] = {}
    for one in Dictionary.objects.filter(study__in=set(studies)).order_by("study", "-number"):
        if one.study_id not in found:
            found[one.study_id] = tables_of(one.descriptor)
    return found


def every_of(project: Project) -> float | None:
    """Give the minutes between scans that the plan says, where it records by scans or intervals."""
    every_s = planned_every_s(project)
    return None if every_s is None else every_s / 60


def stretch_of(session: Session, person: Any, every_min: float | None) -> Stretch:
    """Give what is known of a session before it begins."""
    observers = list(session.observers.all())
    watching = [one for one in observers if one.pk == person.pk] or observers
    return Stretch(
        session=session.code,
        place=session.place.code,
        start=timezone.localtime(session.planned_start),
        end=timezone.localtime(session.planned_end),
        observer=_code_of(session.project, watching[0].pk) if len(watching) == 1 else "",
        watched=tuple(
            Watched(
                one.code,
                one.unit,
                one.group_id is not None,
                one.subject.enclosure.code if one.subject.enclosure else "",
            )
            for one in _watched(session)
        ),
        every_s=round((every_min or 0) * 60),
    )


def _watched(session: Session) -> Iterable[Enrolment]:
    """Give the animals in view; where the session names none, all that are enrolled that day."""
    if named := list(session.enrolments.all()):
        return named
    day = timezone.localdate(session.planned_start)
    live = session.project.enrolments.live_on(day).filter(state="enrolled")
    return live.select_related(*_SUBJECTS).order_by("code")


def _code_of(project: Project, person: int) -> str:
    """Give the code by which the project's data name a person; "" for who is no member."""
    member = project.members.with_codes().filter(person=person).first()
    return member.data_code if member else ""


def sheets_of(session: Session, person: Any, every_min: float | None) -> list[Sheet]:
    """Give the blank sheet of each table of the study's newest dictionary."""
    stretch = stretch_of(session, person, every_min)
    tables = tables_by_study([session.project.study_id]).get(session.project.study_id, [])
    return [blank_sheet(table, stretch) for table in tables]
