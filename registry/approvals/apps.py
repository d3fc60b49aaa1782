"""The app of this slice."""

from django.apps import AppConfig


class ApprovalsConfig(AppConfig):
    """Approvals as sets of limits, and the permissions that a project needs."""

    name = "registry.approvals"
    label = "approvals"
