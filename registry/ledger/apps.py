"""The app of the ledger; the seal is put on again after every migration."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from registry.ledger.seal import put_on


class LedgerConfig(AppConfig):
    """The append-only record of every deed."""

    name = "registry.ledger"
    label = "ledger"

    def ready(self) -> None:
        """Put the triggers on after every migration: SQLite drops them when it remakes a table."""
        post_migrate.connect(put_on, sender=self, dispatch_uid="ledger seal")
