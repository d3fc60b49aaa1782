"""What needs a person today: a table of functions, each of one query, whatever the number of rows.

Who sees what follows from the table of permissions: each function lists the rows in a state in
which the person may do the next deed. A function looks at a standing only where the table does
not tell, because the person is to know and not to do.
"""

from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

from registry.desk.needs import (
    afar,
    animals,
    approvals,
    archive,
    oversight,
    people,
    projects,
    questions,
)
from registry.desk.needs.need import MOST_OF_A_KIND, Need

type Source = Callable[[Any, date], Iterable[Need]]

SOURCES: tuple[Source, ...] = (
    oversight.concerns,
    animals.to_end,
    animals.begun_by_oneself,
    animals.kept_off_in_a_study,
    projects.halts_to_lift,
    projects.halts_of_oneself,
    oversight.severe_uses,
    oversight.sessions,
    oversight.breaches_to_explain,
    oversight.breaches_to_settle,
    oversight.new_breaches,
    oversight.late_entries,
    oversight.points_to_answer,
    oversight.points_to_settle,
    oversight.bookings,
    approvals.to_decide,
    approvals.conditions,
    approvals.expiring,
    approvals.to_request,
    approvals.to_submit,
    projects.agreements_to_sign,
    projects.plans_to_write,
    projects.plans_to_review,
    projects.to_start,
    projects.to_close,
    archive.to_accept,
    archive.to_correct,
    archive.to_submit,
    animals.to_tell_apart,
    afar.to_come_back,
    afar.animals_to_write_down,
    afar.groups_to_write_down,
    questions.to_sort,
    questions.to_answer,
    questions.to_acknowledge,
    questions.husbandry_due,
    questions.to_take_up,
    people.without_standing,
)
"""In this order where two are due alike: welfare first."""


OF_MEMBERS: frozenset[Source] = frozenset(
    {
        projects.halts_of_oneself,
        oversight.sessions,
        oversight.breaches_to_explain,
        approvals.expiring,
        approvals.to_request,
        approvals.to_submit,
        projects.agreements_to_sign,
        projects.plans_to_write,
        projects.to_start,
        projects.to_close,
        archive.to_correct,
        archive.to_submit,
        questions.to_answer,
    }
)
"""Sources that list one's own projects alone: whoever has none need not be looked up in each."""


class Needs(list[Need]):
    """What needs a person, soonest first; cut where there is more of a kind than is told."""

    is_cut = False


def needs_of(person: Any, today: date) -> Needs:
    """Give what needs this person, soonest first, and no more than so many of a kind."""
    is_member = person.memberships.filter(ended_on=None).exists()
    asked = [one for one in SOURCES if is_member or one not in OF_MEMBERS]
    found = [list(source(person, today)) for source in asked]
    told = [need for some in found for need in some[:MOST_OF_A_KIND]]
    needs = Needs(sorted(told, key=lambda need: need.order(today)))
    needs.is_cut = any(len(some) > MOST_OF_A_KIND for some in found)
    return needs


__all__ = ["SOURCES", "Need", "Needs", "needs_of"]
