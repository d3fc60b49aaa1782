"""Put a backup into an empty site, then verify ledger and store and say what was found."""

import os
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

from registry.errors import Refusal
from registry.running import whole
from registry.running.backup.laying import restore
from registry.running.backup.manifest import Manifest
from registry.running.management.commands.backup import told


def key_said(manifest: Manifest) -> str:
    """Say what became of the secret key."""
    if not manifest.holds_secret_key:
        return (
            "The secret key is not in the backup. Put the old one into STRANDLINE_SECRET_KEY, or"
            " into “secret-key” in STRANDLINE_VAR, before you serve: second factors are sealed with"
            " it."
        )
    if "STRANDLINE_SECRET_KEY" in os.environ:
        return (
            "The secret key of the backup was left there, for STRANDLINE_SECRET_KEY is set. Second"
            " factors open with the old one alone: compare the two."
        )
    return "The secret key was put into “secret-key” in STRANDLINE_VAR."


class Command(BaseCommand):
    help = (
        "Put a backup into an empty site, of either database. Everything is checked before anything"
        " is written; broken off, it is given again. The site must not be served meanwhile."
    )
    requires_system_checks = ()
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the backup")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            checked = restore(options["file"])
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(told(checked.manifest))
        self.stdout.write(key_said(checked.manifest))
        faults = [name for name, verdict in self._verdicts().items() if not verdict]
        whole.open_up()
        if faults:
            raise CommandError(
                f"All of the backup was restored, and the site is open, but {' and '.join(faults)}"
                " found faults, told above. They were there when the backup was made. Keep the"
                " backup, tell the auditor, and look for an earlier one."
            )
        self.stdout.write("Restored. The ledger and the store are whole, and the site is open.")

    def _verdicts(self) -> dict[str, bool]:
        """Verify what was restored, and say of each whether it is well."""
        streams = {"stdout": self.stdout, "stderr": self.stderr}
        found: dict[str, bool] = {}
        for name, more in (("verify_ledger", {"subjects": True}), ("verify_store", {})):
            try:
                call_command(name, **more, **streams)
            except (CommandError, SystemExit) as fault:
                if isinstance(fault, CommandError):
                    self.stderr.write(str(fault))
                found[name] = False
            else:
                found[name] = True
        return found
