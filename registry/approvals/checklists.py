"""Which items of the published lists of planning and reporting a request leaves blank.

The titles are quoted, and nothing more: what each asks stands in the papers.

References
----------
ARRIVE 2.0, Essential 10: Percie du Sert, N. et al. (2020), PLOS Biol 18:e3000410.
PREPARE, 15 topics: Smith, A. J. et al. (2018), Lab Anim 52:135-141 (read at PMC5862319).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from registry.approvals.models import Approval
from registry.design.plan import ESSENTIAL
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
    return lambda project: all(str(getattr(project.plan, one)).strip() for one in names)


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


def _either(*asked: Answers) -> Answers:
    return lambda project: any(one(project) for one in asked)


def _sum(part: str) -> Answers:
    """Say whether a sum of the design stands in the plan."""
    return lambda project: any(
        one.part == part and not one.is_dropped for one in project.plan.design_parts.all()
    )


def _no(project: Project) -> bool:
    return False


_UNIT = _all(_texts("experimental_unit"), _animals)

_ESSENTIAL: tuple[Answers, ...] = (
    _UNIT,
    _either(_texts("number_reason"), _sum("size")),
    _texts("exclusions"),
    _either(_texts("allocation"), _sum("allocation")),
    _texts("blinding"),
    _texts("outcome"),
    _texts("analysis"),
    _animals,
    _rows("procedures"),
    _no,
)

ARRIVE = tuple(
    ListItem(f"ARRIVE {n}", title, answered, is_later=answered is _no)
    for n, (title, answered) in enumerate(zip(ESSENTIAL, _ESSENTIAL, strict=True), 1)
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
    "plan__design_parts",
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
