"""The design of a plan as its readers see it: the outline, its items, and what was sealed."""

import json
from datetime import date, time
from typing import Any

from registry import design
from registry.ledger.chain import canonical
from registry.projects.models import PLAN_TEXTS, Allocation, DesignPart, Plan, chosen


def standing(plan: Plan) -> dict[str, DesignPart]:
    """Give the sums that stand in a plan, by their part."""
    return {one.part: one for one in plan.design_parts.all() if not one.is_dropped}


def live_arms(plan: Plan) -> list[Any]:
    """Give the arms of a plan; prefetch them for a list."""
    return [one for one in plan.arms.all() if not one.is_dropped]


def snapshot(plan: Plan) -> str:
    """Give all that a plan says, as the canonical text that its digest is of."""
    return canonical(
        {
            **{name: getattr(plan, name) for name in PLAN_TEXTS},
            **chosen(plan),
            "arms": [
                {
                    "name": one.name,
                    "taxon": str(one.taxon),
                    "units": one.units,
                    "animals": one.animals,
                }
                for one in plan.arms.filter(is_dropped=False).select_related("taxon")
            ],
            "design": {
                part: {"said": one.said, "given": one.given} for part, one in standing(plan).items()
            },
        }
    )


def sealed(part: DesignPart, plan: Plan) -> Allocation:
    """Draw an allocation from a new secret seed; it is not written yet."""
    seed = design.new_seed()
    found = design.allocate(part.given, design.Stream(seed))
    units = [one.unit for one in found.places]
    return Allocation(
        plan=plan,
        drawn_from=part,
        seed=seed.hex(),
        commitment=found.commitment,
        digest=found.digest,
        method=found.method,
        places=[[one.unit, one.arm, one.block, list(one.sequence)] for one in found.places],
        codes=design.codes(units, design.Stream(design.seed_for(seed, "blinding"))),
        notes=list(found.notes),
    )


def allocation_of(kept: Allocation) -> Any:
    """Give a sealed allocation as it was drawn, for whoever may read the key."""
    places = tuple(
        design.Place(unit, arm, block, tuple(sequence))
        for unit, arm, block, sequence in kept.places
    )
    return design.Allocation(kept.method, places, kept.commitment, tuple(kept.notes))


def is_drawn_again(kept: Allocation) -> bool:
    """Say whether the revealed seed gives the same allocation again, and is the committed one."""
    seed = design.seed_from(kept.seed)
    found = design.allocate(kept.drawn_from.given, design.Stream(seed))
    return bool(design.is_revealed(seed, kept.commitment) and found.digest == kept.digest)


def outline_of(plan: Plan) -> Any:
    """Give a plan as the essential items of a report are filled from it."""
    parts = standing(plan)
    size = parts.get("size")
    drawn: Allocation | None = getattr(plan, "drawn", None)
    schedule = parts.get("schedule")
    arms = live_arms(plan)
    animals = "; ".join(f"{one.name}: {one.animals} {one.taxon.common_name}" for one in arms)
    return design.Outline(
        question=plan.hypothesis,
        unit=plan.experimental_unit,
        arms={one.name: one.units for one in arms},
        outcome=plan.outcome,
        outcome_unit=plan.outcome_unit,
        ethogram=plan.ethogram,
        exclusions=plan.exclusions,
        replication=design.sized(size.given) if size else None,
        replication_source=size.given.get("spread_from", "") if size else "",
        number_reason=plan.number_reason,
        allocation=_told_of(drawn) if drawn else None,
        allocation_said=parts["allocation"].said if "allocation" in parts else plan.allocation,
        schedule=_schedule_of(schedule) if schedule else None,
        blinding=plan.blinding,
        analysis=plan.analysis,
        stopping=plan.stopping_rule,
        animals=". ".join(filter(None, [plan.subjects.strip().rstrip("."), animals])),
        procedures="; ".join(str(one) for one in plan.procedures.all()),
    )


def _schedule_of(part: DesignPart) -> Any:
    """Give a kept schedule as it was drawn; to draw a long one again would take seconds."""
    return design.Schedule(
        sessions=tuple(
            design.Session(
                date.fromisoformat(day),
                design.Slot(time.fromisoformat(start), crowding),
                tuple(order),
            )
            for day, start, crowding, order in part.told["sessions"]
        ),
        animals=tuple(part.given["animals"]),
        commitment=part.told["commitment"],
    )


def _told_of(kept: Allocation) -> Any:
    """Give what everyone may know of a sealed allocation: all but who gets what."""
    return design.Allocation(kept.method, (), kept.commitment, tuple(kept.notes))


def differences(older: dict[str, Any], newer: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Give each field in which two versions of a plan differ, with what both say."""

    def said(value: Any) -> str:
        return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)

    return [
        (name, said(older.get(name, "")), said(newer.get(name, "")))
        for name in dict.fromkeys([*newer, *older])
        if older.get(name) != newer.get(name)
    ]
