"""Lock what a deed reads, always in one order, so that two deeds never wait in a circle.

The order is approvals, project, booking or session or enrolment, animals, groups; each in the order
of the ids. Deeds on approvals lock an approval before its projects, so this slice does too.
"""

from collections.abc import Iterable

from registry.animals.models import Animal, Group
from registry.approvals.models import Approval
from registry.projects.models import Project
from registry.transitions import locked, locked_all


def still(project: Project) -> Project:
    """Lock a project with the approvals that cover it: their numbers hold until the deed ends."""
    locked_all(Approval, list(project.approvals.order_by().values_list("pk", flat=True)))
    return locked(project)


def still_subjects(
    subjects: Iterable[Animal | Group | None],
) -> dict[tuple[str, int], Animal | Group]:
    """Lock animals, then groups, and give them anew by kind and number."""
    rows = [one for one in subjects if one is not None]
    animals = locked_all(Animal, [one.pk for one in rows if isinstance(one, Animal)])
    groups = locked_all(Group, [one.pk for one in rows if isinstance(one, Group)])
    found: dict[tuple[str, int], Animal | Group] = {}
    found |= {(Animal.kind, one.pk): one for one in animals}
    found |= {(Group.kind, one.pk): one for one in groups}
    return found
