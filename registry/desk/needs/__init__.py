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
from registry.permissions import Role

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
    oversight.events_to_assess,
    oversight.points_to_answer,
    oversight.points_to_settle,
    oversight.bookings,
    approvals.to_decide,
    approvals.conditions,
    approvals.to_screen,
    approvals.expiring,
    approvals.decided_too_late,
    approvals.to_request,
    approvals.to_submit,
    projects.agreements_to_sign,
    projects.plans_to_write,
    projects.plans_to_review,
    projects.to_start,
    projects.to_close,
    archive.damaged_copies,
    archive.to_accept,
    archive.to_review,
    archive.to_correct,
    archive.to_submit,
    animals.to_tell_apart,
    animals.loans_to_end,
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


_NOBODY: frozenset[Role] = frozenset()
OF_MEMBERS: dict[Source, frozenset[Role]] = {
    projects.halts_of_oneself: _NOBODY,
    oversight.sessions: _NOBODY,
    oversight.breaches_to_explain: _NOBODY,
    approvals.conditions: frozenset({Role.CURATOR}),
    approvals.expiring: _NOBODY,
    approvals.decided_too_late: _NOBODY,
    approvals.to_request: _NOBODY,
    approvals.to_submit: _NOBODY,
    projects.agreements_to_sign: _NOBODY,
    projects.plans_to_write: _NOBODY,
    projects.to_start: _NOBODY,
    projects.to_close: _NOBODY,
    archive.to_correct: _NOBODY,
    archive.to_submit: _NOBODY,
    questions.to_answer: _NOBODY,
}
"""Sources that tell of one's own projects, and the roles that they tell of others' too."""

OF_SEATED: dict[Source, frozenset[Role]] = {
    approvals.to_decide: _NOBODY,
    projects.halts_to_lift: frozenset({Role.VET}),
    oversight.breaches_to_settle: frozenset({Role.AUDITOR}),
}
"""Sources that tell what waits for a body, and the roles that they tell of it besides."""


class Needs(list[Need]):
    """What needs a person, soonest first; cut where there is more of a kind than is told."""

    is_cut = False


def needs_of(person: Any, today: date) -> Needs:
    """Give what needs this person, soonest first, and no more than so many of a kind."""
    of_whom = [
        (OF_MEMBERS, person.memberships.filter(ended_on=None).exists()),
        (OF_SEATED, person.seats.filter(ended_on=None).exists()),
    ]
    passed = {
        source
        for table, is_one in of_whom
        for source, others in table.items()
        if not is_one and not others & person.roles
    }
    found = [list(source(person, today)) for source in SOURCES if source not in passed]
    told = [need for some in found for need in some[:MOST_OF_A_KIND]]
    needs = Needs(sorted(told, key=lambda need: need.order(today)))
    needs.is_cut = any(len(some) > MOST_OF_A_KIND for some in found)
    return needs


__all__ = ["SOURCES", "Need", "Needs", "needs_of"]
