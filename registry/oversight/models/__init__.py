"""Bookings, enrolments, sessions, uses of animals, breaches, concerns and audits."""

from registry.oversight.models.audits import Audit, AuditDraw, Point, SampledUse
from registry.oversight.models.bookings import BookedSubject, Booking, Enrolment
from registry.oversight.models.breaches import Breach
from registry.oversight.models.concerns import Concern, ConcernNote
from registry.oversight.models.house import RestRule, TrainingRule
from registry.oversight.models.retention import Hold, RetentionRule
from registry.oversight.models.returns import (
    ReturnCategory,
    StatedOrigin,
    StatedPurpose,
    YearReturn,
)
from registry.oversight.models.sessions import Session
from registry.oversight.models.uses import Use, days_late
from registry.oversight.models.welfare import AdverseEvent, Course, Deviation, KeeperTime

__all__ = [
    "AdverseEvent",
    "Audit",
    "AuditDraw",
    "BookedSubject",
    "Booking",
    "Breach",
    "Concern",
    "ConcernNote",
    "Course",
    "Deviation",
    "Enrolment",
    "Hold",
    "KeeperTime",
    "Point",
    "RestRule",
    "RetentionRule",
    "ReturnCategory",
    "SampledUse",
    "Session",
    "StatedOrigin",
    "StatedPurpose",
    "TrainingRule",
    "Use",
    "YearReturn",
    "days_late",
]
