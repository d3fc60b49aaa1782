"""The register's own app: shared templates, static files and commands."""

from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules
from django.utils.translation import gettext

from registry import errors, faults


class RegistryConfig(AppConfig):
    """Shared parts of every page."""

    name = "registry"
    label = "registry"

    def ready(self) -> None:
        """Let every form and refusal speak in the house's words, and have the site's own checks."""
        autodiscover_modules("checks")  # they are registered as their files are read
        faults.speak()
        errors.in_words = gettext
