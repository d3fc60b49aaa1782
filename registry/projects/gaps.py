"""What a plan still lacks before it can be reviewed, in words; the page and the deed ask alike."""

from registry.permissions import Part
from registry.projects.models import Plan, Project

# Field of the plan and what is missing without it.
_TEXTS: tuple[tuple[str, str], ...] = (
    ("experimental_unit", "the experimental unit: what a treatment is given to, by itself"),
    ("outcome", "the outcome: what is measured or counted"),
    ("number_reason", "why this many animals and units"),
    ("analysis", "how the data will be analysed"),
    ("data_plan", "the data plan: what is recorded, where it is kept, who may use it"),
)


def gaps_of(project: Project) -> list[tuple[str, str]]:
    """Give each thing that the plan lacks, with the field it belongs to ("" where to none)."""
    plan = project.plan
    found = [(name, said) for name, said in _TEXTS if not getattr(plan, name).strip()]
    procedures = list(plan.procedures.all())
    if not procedures:
        found.append(("procedures", "what is done with the animals, watching included"))
    if not plan.places.exists():
        found.append(("places", "the enclosures in which it is done"))
    if any(one.is_contact for one in procedures) and not plan.humane_end_points.strip():
        found.append(
            (
                "humane_end_points",
                "the humane end-points, for there is contact: when an animal is taken out, by whom",
            )
        )
    return found + _arms_lacking(plan) + _people_lacking(project)


def _arms_lacking(plan: Plan) -> list[tuple[str, str]]:
    arms = list(plan.arms.filter(is_dropped=False))
    if not arms:
        return [("", "at least one treatment or group with its numbers")]
    found = [
        ("", f"at least one experimental unit in “{arm.name}”") for arm in arms if arm.units < 1
    ]
    return found + [
        ("", f"as many animals as units in “{arm.name}” ({arm.animals} for {arm.units})")
        for arm in arms
        if arm.animals < arm.units
    ]


def _people_lacking(project: Project) -> list[tuple[str, str]]:
    parts = set(project.members.live().values_list("part", flat=True))
    wanted = ((Part.LEAD, "a lead supervisor"), (Part.STUDENT, "a student"))
    return [("", said) for part, said in wanted if part not in parts]
