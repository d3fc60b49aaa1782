"""Pages of approvals, of a project, and of when bodies decide."""

from registry.approvals.views.approvals import approval, approval_list, decide, deed, letter
from registry.approvals.views.calendar import calendar
from registry.approvals.views.projects import project, project_deed

__all__ = [
    "approval",
    "approval_list",
    "calendar",
    "decide",
    "deed",
    "letter",
    "project",
    "project_deed",
]
