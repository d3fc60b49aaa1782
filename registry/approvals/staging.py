"""What the register knows of the stages of a project's animals, and when each is protected.

The sums stand in `rules.stages`. Whom a project works with is read by reverse relations from what
was booked and enrolled; while that is nobody, from who lives in the places of its plan.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Q
from django.utils import timezone

from registry.animals.models import Animal, EggCase, Event, Group, Taxon
from registry.approvals.models import StageDecision
from registry.approvals.rules.law import Rules
from registry.approvals.rules.protection import Override, StageFacts
from registry.approvals.rules.stages import Known, Spell, Told, spell
from registry.projects.models import Arm, Plan, Project

type Subject = Animal | Group | EggCase
type Key = tuple[str, int]

UNHATCHED = frozenset({"egg", "embryo"})
EARLY = UNHATCHED | {"larva", "hatchling"}
"""Stages at which the day of laying, hatching or feeding decides; later ones are protected."""


@dataclass(frozen=True)
class Stage:
    """An animal, a group or an egg case of a project, with what is known of its development."""

    subject: Subject
    known: Known
    is_booked: bool
    decided: StageDecision | None = None

    @property
    def now(self) -> str:
        """The stage in which the register holds it."""
        return self.known.stages[-1][1] if self.known.stages else self.known.facts.stage

    @property
    def facts(self) -> list[str]:
        """What a screening goes by: nothing of an animal that is past its early stages."""
        if self.now not in EARLY and self.decided is None:
            return []
        told = self.known.facts
        days = [str(one or "") for one in (told.began, told.born)]
        return [
            f"{self.subject.kind} {self.subject.pk}",
            *days,
            str(getattr(self.decided, "pk", "")),
        ]

    def spell(self, project: Project, rules: Rules) -> Spell:
        """Say from which day of the project on it is protected."""
        return spell(self.known, project.starts_on, project.ends_on, rules)


def stages_of(projects: Sequence[Project], *, is_planned: bool = False) -> dict[int, list[Stage]]:
    """Give whom each project works with; a dozen queries, however many projects and animals.

    `is_planned` gives, for a project that has nobody yet, who lives where its plan has it work.
    """
    ids = [one.pk for one in projects]
    keys = _booked(ids)
    booked = {number for number, _ in keys}
    if is_planned:
        keys |= _living(ids, booked)
    rows = _rows({key for _, key in keys})
    cases = _cases(keys, rows)
    rows |= {("case", one.pk): one for ones in cases.values() for one in ones}
    happened = _events(rows)
    decided = _decisions(ids)
    found: dict[int, list[Stage]] = {one: [] for one in ids}
    for number, key in sorted(keys):
        for one in [*cases[key], rows[key]]:
            # A clutch of which every egg is told apart in its case stands for none of its own.
            if isinstance(one, Group) and cases[key] and not one.number:
                continue
            found[number].append(
                _stage(one, happened, decided[number, _key(one)], is_booked=number in booked)
            )
    return found


def booked_of(stages: Mapping[int, Sequence[Stage]]) -> dict[int, list[Stage]]:
    """Give of whom each project works, or would work with, those that are booked or enrolled."""
    return {number: [one for one in ones if one.is_booked] for number, ones in stages.items()}


def _key(subject: Subject) -> Key:
    return str(subject.kind), subject.pk


def _booked(ids: Sequence[int]) -> set[tuple[int, Key]]:
    """Give the animals and groups that are booked or enrolled, by project."""
    found: set[tuple[int, Key]] = set()
    booking: Any = Project._meta.get_field("bookings").related_model
    enrolment: Any = Project._meta.get_field("enrolments").related_model
    asked = (
        booking.objects.filter(project__in=ids, state__in=["offered", "confirmed"])
        .order_by()
        .values_list("project", "subjects__animal", "subjects__group"),
        enrolment.objects.filter(project__in=ids, state="enrolled")
        .order_by()
        .values_list("project", "animal", "group"),
    )
    for rows in asked:
        for number, animal, group in rows:
            if animal or group:
                found.add((number, ("animal", animal) if animal else ("group", group)))
    return found


def _living(ids: Sequence[int], booked: set[int]) -> set[tuple[int, Key]]:
    """Give who of the planned taxa lives in the planned places, for projects that have nobody."""
    wanted = [one for one in ids if one not in booked]
    places = defaultdict(set)
    for number, place in Plan.places.through.objects.filter(plan__project__in=wanted).values_list(
        "plan__project", "enclosure"
    ):
        places[place].add(number)
    taxa = set(
        Arm.objects.filter(plan__project__in=wanted, is_dropped=False).values_list(
            "plan__project", "taxon"
        )
    )
    found: set[tuple[int, Key]] = set()
    for kind, model, state in (
        ("animal", Animal, "kept"),
        ("group", Group, "kept"),
        ("case", EggCase, "held"),
    ):
        rows = model._default_manager.filter(
            enclosure__in=list(places), taxon__in={taxon for _, taxon in taxa}, state=state
        )
        for pk, place, taxon in rows.order_by().values_list("pk", "enclosure", "taxon"):
            found |= {(one, (kind, pk)) for one in places[place] if (one, taxon) in taxa}
    return found


def _rows(keys: Iterable[Key]) -> dict[Key, Subject]:
    wanted: dict[str, list[int]] = defaultdict(list)
    for kind, pk in keys:
        wanted[kind].append(pk)
    found: dict[Key, Subject] = {}
    for model in (Animal, Group, EggCase):
        if ids := wanted[str(model.kind)]:
            rows: Any = model._default_manager.filter(pk__in=ids)
            found |= {_key(one): one for one in rows}
    # They are many of few taxa, so each taxon is read once.
    taxa = Taxon.objects.in_bulk({one.taxon_id for one in found.values()})
    for one in found.values():
        one.taxon = taxa[one.taxon_id]
    return found


def _cases(
    keys: Iterable[tuple[int, Key]], rows: Mapping[Key, Subject]
) -> defaultdict[Key, list[EggCase]]:
    """Give the egg cases of clutches that are in the projects."""
    groups = {pk for _, (kind, pk) in keys if kind == "group"}
    found: defaultdict[Key, list[EggCase]] = defaultdict(list)
    held = EggCase.objects.filter(clutch__in=groups, state="held").select_related("taxon")
    for one in held.order_by("code"):
        if ("case", one.pk) not in rows:
            found["group", one.clutch_id or 0].append(one)
    return found


class Happened(NamedTuple):
    """One event of an animal, a group or an egg case, as far as it tells of development."""

    sort: str
    happened_on: date
    life_stage: str


def _events(rows: Iterable[Key]) -> defaultdict[Key, list[Happened]]:
    """Give what happened to each that tells of its development, in order; one query."""
    wanted: dict[str, list[int]] = defaultdict(list)
    for kind, pk in rows:
        wanted[kind].append(pk)
    told = Event.objects.standing().filter(
        Q(animal__in=wanted["animal"]) | Q(group__in=wanted["group"]) | Q(case__in=wanted["case"]),
        Q(sort__in=[Event.Sort.LAID, Event.Sort.BORN]) | ~Q(life_stage=""),
    )
    found: defaultdict[Key, list[Happened]] = defaultdict(list)
    columns = ("animal", "group", "case", *Happened._fields)
    for animal, group, case, *one in told.order_by("happened_on", "pk").values_list(*columns):
        key = ("animal", animal) if animal else ("group", group) if group else ("case", case or 0)
        found[key].append(Happened(*one))
    return found


def _decisions(ids: Sequence[int]) -> defaultdict[tuple[int, Key], list[StageDecision]]:
    found: defaultdict[tuple[int, Key], list[StageDecision]] = defaultdict(list)
    rows = StageDecision.objects.filter(project__in=ids).select_related("decided_by").order_by("pk")
    for one in rows:
        key = ("animal", one.animal_id) if one.animal_id else ("case", one.case_id or 0)
        if one.group_id:
            key = ("group", one.group_id)
        found[one.project_id, key].append(one)
    return found


def _stage(
    subject: Subject,
    happened: Mapping[Key, Sequence[Happened]],
    decided: Sequence[StageDecision],
    *,
    is_booked: bool,
) -> Stage:
    events = happened.get(_key(subject), ())
    told = [
        Told(Override(one.is_protected, str(one.decided_by), one.reason), one.from_on, one.until_on)
        for one in decided
    ]
    known = Known(
        _facts(subject, events), _stages(subject, events), timezone.localdate(), tuple(told)
    )
    return Stage(subject, known, is_booked, decided[-1] if decided else None)


def _facts(subject: Subject, events: Sequence[Happened]) -> StageFacts:
    """Give the days of a subject's development; a day that is only estimated is not one."""
    laid = _day(events, Event.Sort.LAID)
    born = _day(events, Event.Sort.BORN)
    if isinstance(subject, EggCase):
        laid = subject.laid_on if subject.laid_precision == "day" else None
    elif subject.born_on is not None and subject.born_precision == "day":
        born = subject.born_on
    if _now(subject) in UNHATCHED and born is not None:
        laid, born = laid or born, None  # of what is an egg still, that is when it was laid
    return StageFacts(
        subject.taxon.taxon_class,
        timezone.localdate(),
        began=laid,
        born=born,
        period_least_d=subject.taxon.period_least_d,
        stage=_now(subject),
    )


def _now(subject: Subject) -> str:
    return "egg" if isinstance(subject, EggCase) else subject.life_stage


def _day(events: Sequence[Happened], sort: str) -> date | None:
    return next((one.happened_on for one in events if one.sort == sort), None)


def _stages(subject: Subject, events: Sequence[Happened]) -> tuple[tuple[date, str], ...]:
    """Give the stages with their first days, the one in which it is held now last."""
    stages = [(one.happened_on, one.life_stage) for one in events if one.life_stage]
    now = _now(subject)
    if not stages or stages[-1][1] != now:
        stages.append((stages[-1][0] if stages else date.min, now))
    return tuple(stages)
