"""The app of this slice."""

from django.apps import AppConfig


class RunningConfig(AppConfig):
    """For whoever installs the site and keeps it."""

    name = "registry.running"
    label = "running"
