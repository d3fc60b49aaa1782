"""Planned against achieved: units of each arm, sessions, and what went otherwise."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from registry import design, drawings
from registry.projects.designed import allocation_of, live_arms, standing
from registry.projects.models import Allocation, Plan, Project
from registry.saying import day_said

SHOWN_FROM = ("collecting", "halted", "reporting", "closed")


@dataclass(frozen=True)
class CameOfIt:
    """What became of a plan."""

    rows: tuple[Any, ...]
    said: tuple[str, ...]

    @property
    def drawn(self) -> drawings.Drawn:
        """What was achieved as bars, held against what was planned."""
        return drawn_of(self.rows)


def drawn_of(rows: Sequence[Any]) -> drawings.Drawn:
    """Draw what was achieved as bars, held against what was planned."""
    bars = [drawings.Bar(one.arm, one.achieved, mark=one.planned) for one in rows]
    return drawings.shares(bars, _("units achieved; the dotted mark is what was planned"))


def picture_of(project: Project, plan: Plan) -> str:
    """Give the drawing as a file of its own; before collecting began nothing is achieved."""
    came = came_of(project, plan)
    rows = came.rows if came else design.achieved(planned_of(plan), {})
    return drawings.alone(drawn_of(rows).large, _("Planned against achieved"))


def planned_of(plan: Plan) -> dict[str, int]:
    """Give how many units each treatment was planned with."""
    return {one.name: one.units for one in live_arms(plan)}


def came_of(project: Project, plan: Plan) -> CameOfIt | None:
    """Set a plan against what was done; None before collecting began. Some seven queries."""
    if project.state not in SHOWN_FROM:
        return None
    planned = planned_of(plan)
    drawn: Allocation | None = getattr(plan, "drawn", None)
    key = key_of(drawn) if drawn is not None and drawn.state == "revealed" else {}
    found = _units(project, key)
    states = list(project.sessions.values_list("state", flat=True))
    schedule = standing(plan).get("schedule")
    return CameOfIt(
        rows=design.achieved(planned, found),
        said=design.came_of_it(
            planned,
            found,
            sessions_planned=max(len(states), len(schedule.told["sessions"]) if schedule else 0),
            sessions_held=states.count("held"),
            deviations=_deviations(project, drawn),
        ),
    )


@dataclass(frozen=True)
class Due:
    """One session of the schedule that is not planned yet, in the site's own time."""

    number: int
    begins: datetime
    ends: datetime
    order: tuple[str, ...]

    @property
    def day(self) -> date:
        """Its day."""
        return self.begins.date()


def due_sessions(project: Project, plan: Plan) -> list[Due]:
    """Give the sessions of a plan's schedule that are to come and not planned yet; one query.

    A session stands for one of the schedule when it begins at that moment, wherever it is held.
    """
    schedule = standing(plan).get("schedule")
    if schedule is None or project.state != "collecting":
        return []
    known = {
        timezone.localtime(moment).replace(tzinfo=None)
        for moment in project.sessions.values_list("planned_start", flat=True)
    }
    now = timezone.localtime().replace(tzinfo=None)
    length = timedelta(minutes=schedule.given["length_min"])
    found = []
    for number, (day, start, _crowding, order) in enumerate(schedule.told["sessions"], 1):
        begins = datetime.fromisoformat(f"{day}T{start}")
        if begins > now and begins not in known:
            found.append(Due(number, begins, begins + length, tuple(order)))
    return found


def key_of(drawn: Allocation) -> dict[str, str]:
    """Give each unit's arm, for whoever may read the key."""
    return {one.unit: one.arm for one in allocation_of(drawn).places}


def _units(project: Project, key: Mapping[str, str]) -> dict[str, int]:
    """Count the units in which animals were enrolled; the arm as said, or by the revealed key."""
    found: dict[str, set[str]] = {}
    for one in project.enrolments.select_related("arm"):
        unit = one.unit or one.code
        arm = one.arm.name if one.arm else key.get(unit) or _("arm not said")
        found.setdefault(arm, set()).add(unit)
    return {arm: len(units) for arm, units in found.items()}


def _deviations(project: Project, drawn: Allocation | None) -> list[str]:
    """Give what went otherwise, each with its day: halts, missed sessions, breaches, the report."""
    said = [
        _("Halted from %(day)s: %(why)s") % {"day": day_said(one.began_on), "why": one.why}
        for one in project.halts.all()
    ]
    missed = project.sessions.filter(state__in=["missed", "abandoned"])
    said += [
        _("Session %(code)s of %(day)s: %(why)s")
        % {
            "code": one.code,
            "day": day_said(one.planned_start),
            "why": one.missing_reason or one.get_state_display(),
        }
        for one in missed
    ]
    said += [
        _("Breach of %(limit)s: %(said)s") % {"limit": one.limit_said, "said": one.said}
        for one in project.breaches.all()
    ]
    if drawn is not None and drawn.revealed_at and project.state in {"collecting", "halted"}:
        said.append(
            _("The key was revealed on %(day)s, before collecting ended.")
            % {"day": day_said(drawn.revealed_at)}
        )
    report: Any = getattr(project, "close_report", None)
    if report is not None and report.deviations:
        said.append(report.deviations)
    return said
