"""Hold an event against the limits of every permission that its project needs."""

from registry.approvals.rules.severity import NAMES as SEVERITIES
from registry.approvals.rules.severity import exceeds
from registry.oversight.limits.facts import (
    ApprovalFacts,
    Code,
    EventFacts,
    LimitFacts,
    NeededFacts,
    PaperFacts,
    Shortfall,
    Span,
    Thing,
    Used,
)
from registry.oversight.limits.holding import (
    WEEKDAYS,
    day_said,
    hold_each,
    lines_of,
    uncovered,
    uncovered_each,
)
from registry.oversight.limits.rest import Rested, RestFacts, rested, unrested

__all__ = [
    "SEVERITIES",
    "WEEKDAYS",
    "ApprovalFacts",
    "Code",
    "EventFacts",
    "LimitFacts",
    "NeededFacts",
    "PaperFacts",
    "RestFacts",
    "Rested",
    "Shortfall",
    "Span",
    "Thing",
    "Used",
    "day_said",
    "exceeds",
    "hold_each",
    "lines_of",
    "rested",
    "uncovered",
    "uncovered_each",
    "unrested",
]
