"""Which experimental units two projects would share, where both do more than watch.

Treatments of two projects on one unit confound each other, and their load falls on one and the
same animals; passive observation may overlap (house rule, as interfaces and trade practice have
it; common practice, no source).
"""

from collections.abc import Sequence
from datetime import date

from django.db.models import Q

from registry.animals.models import Animal, Group
from registry.oversight.bars.offering import watching
from registry.oversight.bars.restrictions import Bars, no_bars
from registry.oversight.facts import subject_of
from registry.oversight.models import Enrolment
from registry.projects.models import Project


def shared_units(project: Project, units: Sequence[tuple[Animal | Group, str]], day: date) -> Bars:
    """Say which of the units in which these subjects are another treatment project holds on a day.

    A unit is its name within an enclosure; one that is named as the enclosure is called, or by its
    code, is all that lives in it. Ask it only of hands-on work. One query.
    """
    bars = no_bars(subject for subject, _unit in units)
    homes = {subject.enclosure_id for subject, _unit in units} - {None}
    held = (
        Enrolment.objects.live_on(day)
        .exclude(project=project)
        .exclude(project__in=watching())
        .filter(Q(animal__enclosure__in=homes) | Q(group__enclosure__in=homes))
        .select_related("project__study", "animal__enclosure", "group__enclosure")
        .order_by("pk")
    )
    for other in held:
        theirs: Animal | Group = other.subject
        for subject, unit in units:
            if subject.enclosure_id == theirs.enclosure_id and _is_shared(
                subject, unit, other.unit
            ):
                name = unit or other.unit
                said = f"“{other.project}” works hands-on with {name} in {subject.enclosure} too."
                if said not in (here := bars[subject_of(subject)]):
                    here.append(said)
    return bars


def _is_shared(subject: Animal | Group, ours: str, theirs: str) -> bool:
    home = subject.enclosure
    assert home is not None  # both live in it
    names = {home.code.casefold(), home.name.casefold()}
    one, other = ours.strip().casefold(), theirs.strip().casefold()
    return one in names or other in names or (bool(one) and one == other)
