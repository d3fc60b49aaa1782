"""The app of this slice."""

from django.apps import AppConfig


class PeopleConfig(AppConfig):
    """People, their standing, the bodies that decide, and inductions."""

    name = "registry.people"
    label = "people"
