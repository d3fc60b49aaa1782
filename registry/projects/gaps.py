"""What a plan still lacks before it can be reviewed, in words; the page and the deed ask alike."""

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from registry.permissions import Part
from registry.projects.models import Plan, Project

# Field of the plan and what is missing without it.
_TEXTS: tuple[tuple[str, Promise], ...] = (
    (
        "experimental_unit",
        gettext_lazy("the experimental unit: what a treatment is given to, by itself"),
    ),
    ("outcome", gettext_lazy("the outcome: what is measured or counted")),
    ("number_reason", gettext_lazy("why this many animals and units")),
    ("analysis", gettext_lazy("how the data will be analysed")),
    (
        "data_plan",
        gettext_lazy("the data plan: what is recorded, where it is kept, who may use it"),
    ),
)


def gaps_of(project: Project) -> list[tuple[str, str]]:
    """Give each thing that the plan lacks, with the field it belongs to ("" where to none)."""
    plan = project.plan
    found = [(name, str(said)) for name, said in _TEXTS if not getattr(plan, name).strip()]
    procedures = list(plan.procedures.all())
    if not procedures:
        found.append(("procedures", _("what is done with the animals, watching included")))
    if not plan.places.exists():
        found.append(("places", _("the enclosures in which it is done")))
    if any(one.is_contact for one in procedures) and not plan.humane_end_points.strip():
        found.append(
            (
                "humane_end_points",
                _(
                    "the humane end-points, for there is contact: when an animal is taken out,"
                    " by whom"
                ),
            )
        )
    return found + _arms_lacking(plan) + _people_lacking(project)


def _arms_lacking(plan: Plan) -> list[tuple[str, str]]:
    arms = list(plan.arms.filter(is_dropped=False))
    if not arms:
        return [("", _("at least one treatment or group with its numbers"))]
    found = [
        ("", _("at least one experimental unit in “%(arm)s”") % {"arm": arm.name})
        for arm in arms
        if arm.units < 1
    ]
    return found + [
        (
            "",
            _("as many animals as units in “%(arm)s” (%(animals)s for %(units)s)")
            % {"arm": arm.name, "animals": arm.animals, "units": arm.units},
        )
        for arm in arms
        if arm.animals < arm.units
    ]


def _people_lacking(project: Project) -> list[tuple[str, str]]:
    parts = set(project.members.live().values_list("part", flat=True))
    wanted = ((Part.LEAD, _("a lead supervisor")), (Part.STUDENT, _("a student")))
    return [("", said) for part, said in wanted if part not in parts]
