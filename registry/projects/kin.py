"""How related the animals are on which a plan draws: those enrolled, or all of its kinds here."""

from dataclasses import dataclass

from registry.animals.models import Animal, Taxon
from registry.animals.relatives import MOST_TOGETHER, Relatedness, relatedness_of
from registry.projects.models import Project


@dataclass(frozen=True)
class PlannedKin:
    """Kinship among the animals of a plan.

    Parameters
    ----------
    relatedness : Relatedness or None
        None where there are fewer than two that are told apart, or too many to reckon at once.
    is_enrolled : bool
        Whether they are those enrolled; else all of its kinds that live here.
    too_many : list of Taxon
        Kinds of the plan, where more than 300 of them live here.
    """

    relatedness: Relatedness | None
    is_enrolled: bool
    too_many: list[Taxon]


def planned_kin(project: Project) -> PlannedKin:
    """Reckon how related the animals of a plan are; five queries, whatever their number."""
    animals = Animal.objects.select_related("taxon").order_by("code")
    enrolled = list(animals.filter(enrolments__project=project).distinct())
    kinds = Taxon.objects.filter(arms__plan__project=project, arms__is_dropped=False).distinct()
    found = enrolled or list(animals.filter(taxon__in=kinds, state="kept")[: MOST_TOGETHER + 1])
    is_many = len(found) > MOST_TOGETHER
    relatedness = None if is_many else relatedness_of(found)
    return PlannedKin(relatedness, bool(enrolled), list(kinds) if is_many else [])
