"""What needs a person today: a table of functions, each of one query, whatever the number of rows.

Who sees what follows from the table of permissions: each function lists the rows in a state in
which the person may do the next deed. A function looks at a standing only where the table does
not tell, because the person is to know and not to do.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
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


@dataclass(frozen=True)
class Concerned:
    """Whom a source concerns, so that nobody else is asked for: who has a project, or a seat.

    `roles` are told of those of others too. `states` are the states of a project of one's own of
    which it tells; without them, of all.
    """

    roles: frozenset[Role] = frozenset()
    states: frozenset[str] = frozenset()


def _in_state(*states: str) -> Concerned:
    return Concerned(states=frozenset(states))


OF_MEMBERS: dict[Source, Concerned] = {
    projects.halts_of_oneself: _in_state("halted"),
    oversight.sessions: Concerned(),
    oversight.breaches_to_explain: Concerned(),
    approvals.conditions: Concerned(frozenset({Role.CURATOR})),
    approvals.expiring: Concerned(),
    approvals.decided_too_late: Concerned(),
    approvals.to_request: Concerned(),
    approvals.to_submit: Concerned(),
    projects.agreements_to_sign: Concerned(),
    projects.plans_to_write: _in_state("drafted"),
    projects.to_start: _in_state("accepted"),
    projects.to_close: _in_state("reporting"),
    archive.to_correct: Concerned(),
    archive.to_submit: Concerned(),
    questions.to_answer: Concerned(),
}
"""Sources that tell of one's own projects."""

OF_SEATED: dict[Source, Concerned] = {
    approvals.to_decide: Concerned(),
    projects.halts_to_lift: Concerned(frozenset({Role.VET})),
    oversight.breaches_to_settle: Concerned(frozenset({Role.AUDITOR})),
}
"""Sources that tell what waits for a body."""


class Needs(list[Need]):
    """What needs a person, soonest first; cut where there is more of a kind than is told."""

    is_cut = False


def needs_of(person: Any, today: date) -> Needs:
    """Give what needs this person, soonest first, and no more than so many of a kind."""
    own = set(
        person.memberships.filter(ended_on=None).values_list("project__state", flat=True).distinct()
    )
    is_seated = person.seats.filter(ended_on=None).exists()
    passed = {
        source
        for source, of in (OF_MEMBERS | OF_SEATED).items()
        if not of.roles & person.roles
        and not (is_seated if source in OF_SEATED else own & (of.states or own))
    }
    found = [list(source(person, today)) for source in SOURCES if source not in passed]
    told = [need for some in found for need in some[:MOST_OF_A_KIND]]
    needs = Needs(sorted(told, key=lambda need: need.order(today)))
    needs.is_cut = any(len(some) > MOST_OF_A_KIND for some in found)
    return needs


__all__ = ["SOURCES", "Need", "Needs", "needs_of"]
