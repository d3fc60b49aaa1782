"""The register's own app: shared templates, static files and commands."""

from django.apps import AppConfig


class RegistryConfig(AppConfig):
    """Shared parts of every page."""

    name = "registry"
    label = "registry"
