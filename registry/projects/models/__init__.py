"""Studies, projects, members, plans and what they were designed to be."""

from registry.projects.models.designed import Allocation, DesignPart, PlanVersion
from registry.projects.models.plan import (
    PLAN_TEXTS,
    Arm,
    Plan,
    RecordingRule,
    Review,
    SamplingRule,
    chosen,
)
from registry.projects.models.work import (
    Agreement,
    Halt,
    Member,
    Procedure,
    Project,
    ProjectQuerySet,
    Severity,
    Study,
)

__all__ = [
    "PLAN_TEXTS",
    "Agreement",
    "Allocation",
    "Arm",
    "DesignPart",
    "Halt",
    "Member",
    "Plan",
    "PlanVersion",
    "Procedure",
    "Project",
    "ProjectQuerySet",
    "RecordingRule",
    "Review",
    "SamplingRule",
    "Severity",
    "Study",
    "chosen",
]
