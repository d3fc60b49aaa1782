"""Approvals as sets of limits, the permissions that a project needs, and what people decided."""

from registry.approvals.models.approvals import (
    TEXTS,
    Approval,
    ApprovalQuerySet,
    Limit,
    chosen,
)
from registry.approvals.models.following import (
    Change,
    Comment,
    Condition,
    ConditionQuerySet,
    Item,
    Pause,
)
from registry.approvals.models.judging import ReuseDecision, Screening, StageDecision
from registry.approvals.models.needs import Need, PermissionKind

__all__ = [
    "TEXTS",
    "Approval",
    "ApprovalQuerySet",
    "Change",
    "Comment",
    "Condition",
    "ConditionQuerySet",
    "Item",
    "Limit",
    "Need",
    "Pause",
    "PermissionKind",
    "ReuseDecision",
    "Screening",
    "StageDecision",
    "chosen",
]
