"""What a decider needs of a request beside its own terms, gathered for its page and the API."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, EggCase, Group, LifeStage, Word
from registry.approvals.calendar import Sitting, first_to_decide
from registry.approvals.models import Approval, Limit
from registry.approvals.reusing import reuses_of
from registry.approvals.rules.law import rules_on
from registry.approvals.rules.reuse import Reuse, Sort
from registry.approvals.screens import jurisdictions_of
from registry.approvals.staging import Stage
from registry.approvals.weighing import live_limits
from registry.people.models import Body
from registry.permissions import Part
from registry.projects.models import Project
from registry.saying import day_said, listed

# ------------------------------------------------------------------- the animals and their state


@dataclass(frozen=True)
class StageRow:
    """Animals of a project that stand alike: their stage, and from when they are protected."""

    project: Project
    subjects: Sequence[Any]
    taxon: str
    stage: str
    word: str
    from_on: date | None
    is_throughout: bool
    is_certain: bool
    why: str
    version: str
    is_booked: bool

    @property
    def names(self) -> str:
        """Who they are, each by name."""
        return listed([str(one) for one in self.subjects])


def stage_rows(
    projects: Sequence[Project], of_project: Mapping[int, Sequence[Stage]]
) -> list[StageRow]:
    """Give the animals of projects with their state, those alike together; a few queries.

    `of_project` is what `stages_of` gave of them, with the planned animals too.
    """
    places = jurisdictions_of(projects)
    found: dict[tuple[Any, ...], list[Stage]] = defaultdict(list)
    by_number = {one.pk: one for one in projects}
    words = _words(one for ones in of_project.values() for one in ones)
    for number, stages in of_project.items():
        rules = rules_on(places[number], timezone.localdate())
        for one in stages:
            spell = one.spell(by_number[number], rules)
            word = words.get((str(one.subject.kind), one.subject.pk), "")
            found[number, str(one.subject.taxon), one.now, word, spell, one.is_booked].append(one)
    return [
        StageRow(
            by_number[number],
            [one.subject for one in ones],
            taxon,
            str(LifeStage(stage).label),
            str(Word(word).label) if word else "",
            spell.from_on,
            spell.is_throughout,
            spell.then.is_certain,
            spell.then.why,
            spell.then.version,
            is_booked,
        )
        for (number, taxon, stage, word, spell, is_booked), ones in found.items()
    ]


def used_before(project: Project, stages: Sequence[Stage]) -> list[tuple[Any, Reuse]]:
    """Give the booked animals that went through a procedure elsewhere, with what the rule says."""
    subjects = [
        one.subject for one in stages if one.is_booked and not isinstance(one.subject, EggCase)
    ]
    found = reuses_of(subjects, max(timezone.localdate(), project.starts_on), project)
    said = [(one, found[str(one.kind), one.pk]) for one in subjects]
    return [pair for pair in said if pair[1].sort != Sort.FIRST]


def _words(stages: Iterable[Stage]) -> dict[tuple[str, int], str]:
    """Give what one may say of each animal and group today; two queries."""
    subjects = [one.subject for one in stages]
    today = timezone.localdate()
    found: dict[tuple[str, int], str] = {}
    for model in (Animal, Group):
        keys = [one.pk for one in subjects if isinstance(one, model)]
        rows: Any = model.objects.filter(pk__in=keys)
        words = rows.with_word(today).values_list("pk", "word")
        found |= {(str(model.kind), pk): word for pk, word in words}
    return found


# --------------------------------------------------------------------------------- an amendment


@dataclass(frozen=True)
class Compared:
    """One thing that an amendment changes: as it stands, and as it is asked for."""

    what: str
    now: str
    asked: str


def compared(approval: Approval) -> list[Compared]:
    """Give what an amendment changes, term by term and line by line; nothing of another request."""
    if approval.amends is None:
        return []
    now, asked = _terms(approval.amends), _terms(approval)
    return [
        Compared(what, now.get(what) or _("nothing"), asked.get(what) or _("nothing"))
        for what in dict.fromkeys([*now, *asked])
        if now.get(what) != asked.get(what)
    ]


def _terms(approval: Approval) -> dict[str, str]:
    terms = {
        _("Question"): approval.title,
        _("The body's own number"): approval.reference,
        _("Case"): approval.case,
        _("Harm"): _lines(approval.get_harm_category_display(), approval.harms),
        _("Benefit"): _lines(approval.get_benefit_category_display(), approval.benefits),
        _("First day"): day_said(approval.starts_on),
        _("Last day"): day_said(approval.ends_on),
        _("Days of the week, Monday is 1"): approval.weekdays,
        _("Severity at most"): approval.get_max_severity_display(),
        _("Places"): listed([str(one) for one in approval.places.all()]),
        _("Named people"): listed([str(one) for one in approval.people.all()]),
        _("Using animals again"): approval.get_reuse_consent_display(),
        _("Animals named for it"): listed([str(one) for one in approval.reuse_animals.all()]),
    }
    return terms | {_line(one): _limit(one) for one in live_limits(approval)}


def _lines(*said: str) -> str:
    return "\n".join(filter(None, said))


def _line(limit: Limit) -> str:
    parts = [str(limit.taxon), limit.get_life_stage_display(), str(limit.procedure)]
    return ", ".join(filter(None, parts))


def _limit(limit: Limit) -> str:
    animals = _("%(animals)s animals") % {"animals": limit.max_animals}
    times = limit.max_contacts_each
    return ", ".join(
        [
            animals,
            _("%(times)s times each") % {"times": times} if times is not None else _("any times"),
            limit.severity_at_most.label,
        ]
    )


# ----------------------------------------------------------------------------- when it is decided


@dataclass(frozen=True)
class Waiting:
    """When a request can be decided, and whose course is over before."""

    body: Body
    meeting: Sitting | None
    too_late_for: Sequence[tuple[str, date]]


WAITING_READS = ("body__meetings", "projects__members__person")
"""What to prefetch of requests before it is asked when they can be decided."""


def waiting_of(approval: Approval) -> Waiting | None:
    """Give when a request that is not decided yet can be; None once it is. No query of its own."""
    if approval.state not in {"drafted", "submitted"}:
        return None
    sent = approval.submitted_at if approval.state == "submitted" else None
    today = timezone.localdate()
    sittings = [
        Sitting(one.held_on, one.papers_by)
        for one in approval.body.meetings.all()
        if one.held_on >= today and one.called_off_on is None
    ]
    first = first_to_decide(sittings, timezone.localdate(sent) if sent else today)
    return Waiting(approval.body, first, _too_late(approval, first) if first else ())


def _too_late(approval: Approval, first: Sitting) -> list[tuple[str, date]]:
    """Give the students whose course, or whose project, is over by the day of the meeting."""
    found: dict[str, date] = {}
    for project in approval.projects.all():
        for one in project.members.all():
            ends_on = one.course_ends_on or project.ends_on
            if one.part == Part.STUDENT and one.ended_on is None and ends_on < first.held_on:
                found[str(one.person)] = ends_on
    return list(found.items())
