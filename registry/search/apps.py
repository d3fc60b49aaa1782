"""The app of the index."""

from django.apps import AppConfig


class SearchConfig(AppConfig):
    """One small index over everything that can be looked for."""

    name = "registry.search"
    label = "search"
