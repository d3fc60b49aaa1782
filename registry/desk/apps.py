"""The app of this slice."""

from django.apps import AppConfig


class DeskConfig(AppConfig):
    """What looks at everything: Today, search, the reports."""

    name = "registry.desk"
    label = "desk"
