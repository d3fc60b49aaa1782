"""The app of this slice."""

from django.apps import AppConfig


class OversightConfig(AppConfig):
    """Bookings, enrolments, sessions, uses, breaches, concerns and audits."""

    name = "registry.oversight"
    label = "oversight"
