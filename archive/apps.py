"""The app of the archive."""

from django.apps import AppConfig


class ArchiveConfig(AppConfig):
    """Dictionaries, deposits, datasets and their versions."""

    name = "archive"
    label = "archive"
