"""The app of this slice."""

from django.apps import AppConfig


class AfarConfig(AppConfig):
    """Custody at a partner, dossiers of those that leave, and news of them from afar."""

    name = "registry.afar"
    label = "afar"
