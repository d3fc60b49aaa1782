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
from registry.permissions import Part, Role, knowing_parts

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
    """Whom a source concerns; nobody else is asked for.

    `roles` are told wherever it is. Of projects of one's own it tells where one has one of the
    `parts` and the project is in one of the `states`, each of which is any where none is named.
    `seats` tells whoever sits on a body.
    """

    roles: frozenset[Role] = frozenset()
    parts: frozenset[str] = frozenset()
    states: frozenset[str] = frozenset()
    members: bool = True
    seats: bool = False

    def tells(self, person: Any, own: set[tuple[str, str]], *, is_seated: bool) -> bool:
        """Say whether it tells this person, who has these parts in projects of these states."""
        return bool(
            self.roles & person.roles
            or (self.seats and is_seated)
            or (
                self.members
                and any(
                    part in (self.parts or {part}) and state in (self.states or {state})
                    for part, state in own
                )
            )
        )


def _of_lead(*states: str) -> Concerned:
    return Concerned(parts=frozenset({Part.LEAD}), states=frozenset(states))


CONCERNED: dict[Source, Concerned] = {
    projects.halts_of_oneself: Concerned(states=frozenset({"halted"})),
    projects.agreements_to_sign: Concerned(parts=frozenset({Part.STUDENT})),
    projects.plans_to_write: Concerned(states=frozenset({"drafted"})),
    projects.to_start: _of_lead("accepted"),
    projects.to_close: _of_lead("reporting"),
    oversight.sessions: Concerned(),
    oversight.breaches_to_explain: _of_lead(),
    approvals.conditions: Concerned(frozenset({Role.CURATOR}), frozenset({Part.LEAD})),
    approvals.expiring: Concerned(),
    approvals.decided_too_late: Concerned(),
    approvals.to_request: _of_lead(),
    approvals.to_submit: _of_lead(),
    approvals.to_screen: Concerned(frozenset({Role.VET}), seats=True),
    archive.to_correct: Concerned(),
    archive.to_submit: Concerned(),
    questions.to_answer: _of_lead(),
    approvals.to_decide: Concerned(members=False, seats=True),
    projects.halts_to_lift: Concerned(frozenset({Role.VET}), members=False, seats=True),
    oversight.breaches_to_settle: Concerned(frozenset({Role.AUDITOR}), members=False, seats=True),
}
"""Sources that tell of one's own projects, or of what waits for a body; the others ask the table
of permissions alone. It repeats what that table says, to ask less: the tests hold both together."""


class Needs(list[Need]):
    """What needs a person, soonest first; cut where there is more of a kind than is told."""

    is_cut = False


def needs_of(person: Any, today: date) -> Needs:
    """Give what needs this person, soonest first, and no more than so many of a kind."""
    person = knowing_parts(person)
    own = {(part, state) for _project, part, state in person.parts_held}
    is_seated = person.seats.filter(ended_on=None).exists()
    passed = {
        source
        for source, concerned in CONCERNED.items()
        if not concerned.tells(person, own, is_seated=is_seated)
    }
    found = [list(source(person, today)) for source in SOURCES if source not in passed]
    told = [need for some in found for need in some[:MOST_OF_A_KIND]]
    needs = Needs(sorted(told, key=lambda need: need.order(today)))
    needs.is_cut = any(len(some) > MOST_OF_A_KIND for some in found)
    return needs


__all__ = ["SOURCES", "Need", "Needs", "needs_of"]
