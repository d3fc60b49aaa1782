"""Deeds of this slice, from a booking to the settling of what went wrong."""

from registry.oversight.actions.audits import (
    answer_point,
    open_audit,
    reopen_point,
    settle_point,
    write_point,
)
from registry.oversight.actions.bookings import (
    confirm_booking,
    offer_booking,
    refuse_booking,
    release_booking,
    request_booking,
)
from registry.oversight.actions.breaches import (
    BreachFound,
    explain_breach,
    open_breaches,
    query_breach,
    settle_breach,
)
from registry.oversight.actions.concerns import (
    raise_concern,
    reopen_concern,
    resolve_concern,
    take_up_concern,
)
from registry.oversight.actions.enrolments import (
    discharge_animal,
    enrol_animals,
    severities_of,
    withdraw_animal,
)
from registry.oversight.actions.sessions import (
    abandon_session,
    hold_session,
    miss_session,
    plan_session,
)
from registry.oversight.actions.uses import record_use, reverse_use

__all__ = [
    "BreachFound",
    "abandon_session",
    "answer_point",
    "confirm_booking",
    "discharge_animal",
    "enrol_animals",
    "explain_breach",
    "hold_session",
    "miss_session",
    "offer_booking",
    "open_audit",
    "open_breaches",
    "plan_session",
    "query_breach",
    "raise_concern",
    "record_use",
    "refuse_booking",
    "release_booking",
    "reopen_concern",
    "reopen_point",
    "request_booking",
    "resolve_concern",
    "reverse_use",
    "settle_breach",
    "settle_point",
    "severities_of",
    "take_up_concern",
    "withdraw_animal",
    "write_point",
]
