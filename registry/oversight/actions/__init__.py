"""Deeds of this slice, from a booking to the settling of what went wrong."""

from registry.oversight.actions.audits import (
    answer_point,
    confirm_use,
    doubt_use,
    draw_uses,
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
    ask_raiser,
    check_welfare,
    follow_concern,
    raise_concern,
    reopen_concern,
    reply_concern,
    resolve_concern,
    take_up_concern,
)
from registry.oversight.actions.enrolments import (
    discharge_animal,
    enrol_animals,
    severities_of,
    withdraw_animal,
)
from registry.oversight.actions.entering import enter_uses
from registry.oversight.actions.holds import hold_records, lift_hold
from registry.oversight.actions.rests import end_rest_rule, set_rest_rule
from registry.oversight.actions.returns import publish_return, say_origin, say_purpose
from registry.oversight.actions.schedules import plan_schedule
from registry.oversight.actions.sessions import (
    abandon_session,
    hold_session,
    miss_session,
    plan_session,
)
from registry.oversight.actions.trainings import end_training_rule, set_training_rule
from registry.oversight.actions.uses import record_use, reverse_use
from registry.oversight.actions.welfare import (
    assess_event,
    log_time,
    record_deviation,
    report_event,
)

__all__ = [
    "BreachFound",
    "abandon_session",
    "answer_point",
    "ask_raiser",
    "assess_event",
    "check_welfare",
    "confirm_booking",
    "confirm_use",
    "discharge_animal",
    "doubt_use",
    "draw_uses",
    "end_rest_rule",
    "end_training_rule",
    "enrol_animals",
    "enter_uses",
    "explain_breach",
    "follow_concern",
    "hold_records",
    "hold_session",
    "lift_hold",
    "log_time",
    "miss_session",
    "offer_booking",
    "open_audit",
    "open_breaches",
    "plan_schedule",
    "plan_session",
    "publish_return",
    "query_breach",
    "raise_concern",
    "record_deviation",
    "record_use",
    "refuse_booking",
    "release_booking",
    "reopen_concern",
    "reopen_point",
    "reply_concern",
    "report_event",
    "request_booking",
    "resolve_concern",
    "reverse_use",
    "say_origin",
    "say_purpose",
    "set_rest_rule",
    "set_training_rule",
    "settle_breach",
    "settle_point",
    "severities_of",
    "take_up_concern",
    "withdraw_animal",
    "write_point",
]
