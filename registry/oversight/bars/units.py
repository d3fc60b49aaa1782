"""Which experimental units two projects would share, where both do more than watch.

Treatments of two projects on one unit confound each other, and their load falls on one and the
same animals; passive observation may overlap (house rule, as interfaces and trade practice have
it; common practice, no source).
"""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from django.db.models import Q
from django.db.models.functions import Coalesce

from registry.animals.models import Animal, Group
from registry.oversight.bars.offering import watching
from registry.oversight.bars.restrictions import Bars, no_bars
from registry.oversight.facts import subject_of
from registry.oversight.models import Enrolment
from registry.projects.models import Project


def shared_units(project: Project, units: Sequence[tuple[Animal | Group, str]], day: date) -> Bars:
    """Say which of the units in which these subjects are another treatment project holds on a day.

    A unit is its name within an enclosure; one that is named as the enclosure is called, or by its
    code, is all that lives in it. Ask it only of hands-on work. One query, and two more where
    a unit is shared: of whatever else lives there only the names of its units are read.
    """
    bars = no_bars(subject for subject, _unit in units)
    homes = {subject.enclosure_id for subject, _unit in units} - {None}
    home = Coalesce("animal__enclosure", "group__enclosure")
    held = (
        Enrolment.objects.live_on(day)
        .exclude(project=project)
        .exclude(project__in=watching())
        .filter(Q(animal__enclosure__in=homes) | Q(group__enclosure__in=homes))
        .order_by()
    )
    named = list(held.values_list(home, "unit").distinct())
    met = [
        (subject, unit, other)
        for subject, unit in units
        for where, other in named
        if where == subject.enclosure_id and _is_shared(subject, unit, other)
    ]
    if not met:
        return bars
    theirs = held.filter(unit__in={other for _subject, _unit, other in met})
    rows = list(theirs.values_list(home, "unit", "project").distinct().order_by("project"))
    others = Project.objects.select_related("study").in_bulk({pk for _where, _name, pk in rows})
    holding = defaultdict(list)
    for where, name, pk in rows:
        holding[where, name].append(others[pk])
    for subject, unit, other in met:
        for their in holding[subject.enclosure_id, other]:
            said = f"“{their}” works hands-on with {unit or other} in {subject.enclosure} too."
            if said not in (here := bars[subject_of(subject)]):
                here.append(said)
    return bars


def _is_shared(subject: Animal | Group, ours: str, theirs: str) -> bool:
    home = subject.enclosure
    assert home is not None  # both live in it
    names = {home.code.casefold(), home.name.casefold()}
    one, other = ours.strip().casefold(), theirs.strip().casefold()
    return one in names or other in names or (bool(one) and one == other)
