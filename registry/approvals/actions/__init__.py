"""Deeds on approvals: asking, limits, decisions, suspension, amendment, the project's start."""

from registry.approvals.actions.asking import (
    add_limit,
    cover_project,
    drop_limit,
    request_approval,
)
from registry.approvals.actions.course import (
    close_approval,
    give_evidence,
    reinstate_approval,
    suspend_approval,
    withdraw_approval,
)
from registry.approvals.actions.deciding import (
    grant_approval,
    refuse_approval,
    return_approval,
)
from registry.approvals.actions.judging import decide_reuse, decide_stage
from registry.approvals.actions.needs import (
    start_project,
    state_need,
)
from registry.approvals.actions.screenings import screen_procedure
from registry.approvals.actions.sending import amend_approval, submit_approval
from registry.approvals.actions.talking import answer_change, comment_on, write_item
from registry.approvals.models import TEXTS

__all__ = [
    "TEXTS",
    "add_limit",
    "amend_approval",
    "answer_change",
    "close_approval",
    "comment_on",
    "cover_project",
    "decide_reuse",
    "decide_stage",
    "drop_limit",
    "give_evidence",
    "grant_approval",
    "refuse_approval",
    "reinstate_approval",
    "request_approval",
    "return_approval",
    "screen_procedure",
    "start_project",
    "state_need",
    "submit_approval",
    "suspend_approval",
    "withdraw_approval",
    "write_item",
]
