"""The input of each deed of this slice."""

from registry.approvals.forms.approvals import DEEDS, PROJECT_DEEDS, Approve

__all__ = ["DEEDS", "PROJECT_DEEDS", "Approve"]
