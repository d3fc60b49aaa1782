"""Which items of the published lists of planning and reporting a request leaves blank.

The titles are quoted, and nothing more: what each asks stands in the papers.

References
----------
ARRIVE 2.0, Essential 10: Percie du Sert, N. et al. (2020), PLOS Biol 18:e3000410 (items 1 to 4
read in a copy, 5 to 10 from memory). PREPARE: Smith, A. J. et al. (2018), Lab Anim 52:135-141,
15 topics (read at PMC5862319).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from registry.approvals.models import Approval
from registry.permissions import Part
from registry.projects.models import Project

type Answers = Callable[[Project], bool]


@dataclass(frozen=True)
class ListItem:
    """One item: its code, its title as published, and whether a plan answers it.

    `is_later` says that it is answered once there are data, and is not asked of a plan.
    """

    code: str
    title: str
    is_answered: Answers
    is_later: bool = False


def _texts(*names: str) -> Answers:
    """Say of a plan whether each of these is written; what a plan has no field for is not."""
    return lambda project: all(str(getattr(project.plan, one, "")).strip() for one in names)


def _rows(name: str) -> Answers:
    return lambda project: bool(getattr(project.plan, name).all())


def _animals(project: Project) -> bool:
    return any(not one.is_dropped for one in project.plan.arms.all())


def _need(code: str) -> Answers:
    return lambda project: any(one.permission.code == code for one in project.needs.all())


def _needs(project: Project) -> bool:
    return bool(project.needs.all())


def _people(project: Project) -> bool:
    parts = {one.part for one in project.members.all() if one.ended_on is None}
    return parts >= {Part.LEAD, Part.STUDENT}


def _all(*asked: Answers) -> Answers:
    return lambda project: all(one(project) for one in asked)


def _no(project: Project) -> bool:
    return False


_UNIT = _all(_texts("experimental_unit"), _animals)

ARRIVE = (
    ListItem("ARRIVE 1", "Study design", _UNIT),
    ListItem("ARRIVE 2", "Sample size", _texts("number_reason")),
    ListItem("ARRIVE 3", "Inclusion and exclusion criteria", _texts("exclusions")),
    ListItem("ARRIVE 4", "Randomisation", _texts("allocation")),
    ListItem("ARRIVE 5", "Blinding", _texts("blinding")),
    ListItem("ARRIVE 6", "Outcome measures", _texts("outcome")),
    ListItem("ARRIVE 7", "Statistical methods", _texts("analysis")),
    ListItem("ARRIVE 8", "Experimental animals", _animals),
    ListItem("ARRIVE 9", "Experimental procedures", _rows("procedures")),
    ListItem("ARRIVE 10", "Results", _no, is_later=True),
)

PREPARE = (
    ListItem("PREPARE 1", "Literature searches", _no),
    ListItem("PREPARE 2", "Legal issues", _needs),
    ListItem(
        "PREPARE 3",
        "Ethical issues, harm-benefit assessment and humane endpoints",
        _texts("humane_end_points"),
    ),
    ListItem(
        "PREPARE 4",
        "Experimental design and statistical analysis",
        _all(_UNIT, _texts("analysis")),
    ),
    ListItem("PREPARE 5", "Objectives and timescale, funding and division of labour", _people),
    ListItem("PREPARE 6", "Facility evaluation", _rows("places")),
    ListItem("PREPARE 7", "Education and training", _need("induction")),
    ListItem(
        "PREPARE 8", "Health risks, waste disposal and decontamination", _need("risk-assessment")
    ),
    ListItem("PREPARE 9", "Test substances and procedures", _rows("procedures")),
    ListItem("PREPARE 10", "Experimental animals", _animals),
    ListItem("PREPARE 11", "Quarantine and health monitoring", _no),
    ListItem("PREPARE 12", "Housing and husbandry", _rows("places")),
    ListItem("PREPARE 13", "Experimental procedures", _rows("procedures")),
    ListItem("PREPARE 14", "Humane killing, release, reuse or rehoming", _no),
    ListItem("PREPARE 15", "Necropsy", _no),
)

ITEMS: Mapping[str, ListItem] = {one.code: one for one in (*ARRIVE, *PREPARE)}

READ_FOR_ITEMS = (
    "plan__procedures",
    "plan__places",
    "plan__arms",
    "needs__permission",
    "members",
)
"""What to prefetch of projects before their items are asked."""


def blank_items(approval: Approval, projects: Iterable[Project]) -> list[ListItem]:
    """Give the items that a plan of the request does not answer, and that nobody wrote to."""
    written = {one.code for one in approval.items.all()}
    asked: list[Any] = list(projects)
    return [
        one
        for one in ITEMS.values()
        if not one.is_later
        and one.code not in written
        and not all(one.is_answered(project) for project in asked)
    ]
