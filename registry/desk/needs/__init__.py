"""What needs a person today: a table of functions, each of one query, whatever the number of rows.

Who sees what follows from the table of permissions: each function lists the rows in a state in
which the person may do the next deed. A function looks at a standing only where the table does
not tell, because the person is to know and not to do.
"""

from collections.abc import Callable, Iterable
from datetime import date
from typing import Any

from registry.desk.needs import (
    animals,
    approvals,
    archive,
    oversight,
    people,
    projects,
    questions,
)
from registry.desk.needs.need import Need

type Source = Callable[[Any, date], Iterable[Need]]

SOURCES: tuple[Source, ...] = (
    oversight.concerns,
    animals.to_end,
    animals.begun_by_oneself,
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
    questions.to_sort,
    questions.to_answer,
    questions.to_acknowledge,
    questions.husbandry_due,
    questions.wished_for,
    people.without_standing,
)
"""In this order where two are due alike: welfare first."""


def needs_of(person: Any, today: date) -> list[Need]:
    """Give what needs this person, soonest first."""
    found = [need for source in SOURCES for need in source(person, today)]
    return sorted(found, key=lambda need: need.order(today))


__all__ = ["SOURCES", "Need", "needs_of"]
