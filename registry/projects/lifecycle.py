"""What may follow for a project, and for the allocation that its plan seals."""

from registry.lifecycle import Lifecycle

_BEFORE_END = ("drafted", "submitted", "accepted", "collecting", "halted", "reporting")
_MEMBERS = {(state, verb): state for state in _BEFORE_END for verb in ("assign", "unassign")}
_ASKING = {
    (state, verb): state
    for state in ("drafted", "submitted", "accepted", "collecting", "halted")
    for verb in (
        *("need", "request_approval", "sign_agreement"),
        *("screen", "decide_stage", "decide_reuse"),
    )
}
_BOOKING = {
    (state, "request_booking"): state
    for state in ("drafted", "submitted", "accepted", "collecting")
}
_WORK = {
    (state, verb): state
    for state in ("collecting", "halted", "reporting")
    for verb in ("record_use", "enter_uses", "deposit")
}
_EXTEND = {
    (state, "extend"): state
    for state in ("accepted", "collecting", "halted", "reporting", "closed")
}
_REPORTED = {
    (state, "say_purpose"): state
    for state in ("accepted", "collecting", "halted", "reporting", "closed")
}
_TOLD = {(state, "add_output"): state for state in ("collecting", "halted", "reporting", "closed")}
_HELD = {(state, "hold_records"): state for state in (*_BEFORE_END, "closed", "abandoned")}
_ACCOUNTED = {
    (state, verb): state
    for state in ("accepted", "collecting", "halted", "reporting")
    for verb in ("report_event", "record_deviation", "log_time")
}

PROJECT = Lifecycle(
    kind="project",
    first="drafted",
    steps={
        ("drafted", "write_plan"): "drafted",
        ("drafted", "add_arm"): "drafted",
        ("drafted", "drop_arm"): "drafted",
        ("drafted", "use_design"): "drafted",
        ("drafted", "drop_design"): "drafted",
        ("drafted", "submit"): "submitted",
        ("submitted", "return"): "drafted",
        ("submitted", "accept"): "accepted",
        ("accepted", "start"): "collecting",
        ("collecting", "halt"): "halted",
        ("halted", "resume"): "collecting",
        ("collecting", "plan_session"): "collecting",
        ("collecting", "plan_schedule"): "collecting",
        ("collecting", "finish"): "reporting",
        ("halted", "finish"): "reporting",
        ("reporting", "close"): "closed",
        **{(state, "abandon"): "abandoned" for state in _BEFORE_END},
        **_MEMBERS,
        **_ASKING,
        **_BOOKING,
        **_WORK,
        **_EXTEND,
        **_REPORTED,
        **_ACCOUNTED,
        **_TOLD,
        **_HELD,
    },
    reasons=frozenset({"return", "halt", "resume", "abandon"}),
)

ALLOCATION = Lifecycle(
    kind="allocation",
    first="sealed",
    steps={("sealed", "reveal"): "revealed"},
    reasons=frozenset({"reveal"}),
)
