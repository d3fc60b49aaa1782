"""The app of this slice."""

from django.apps import AppConfig


class AnimalsConfig(AppConfig):
    """Taxa, animals, groups, enclosures and restrictions: who lives here."""

    name = "registry.animals"
    label = "animals"
