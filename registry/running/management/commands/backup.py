"""Back the whole site up into one file, or read a backup through."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from registry.errors import Refusal
from registry.guarded.sizes import size
from registry.running.backup.manifest import Manifest
from registry.running.backup.packing import back_up
from registry.running.backup.reading import check_backup, misfit


def told(manifest: Manifest) -> str:
    """Say what a backup holds."""
    return (
        f"{len(manifest.tables)} tables with {manifest.rows:,} rows; {len(manifest.pieces):,} files"
        f" with {size(manifest.bytes_of_files)}; ledger head {manifest.ledger_number}"
        f" {manifest.ledger_digest}"
    )


class Command(BaseCommand):
    help = (
        "Write database, store and quarantine into one new file, while the site goes on running."
        " It appears whole or not at all, readable by you alone."
    )
    # Pages that would not load are no reason not to save what is held.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the backup, a tar")
        parser.add_argument(
            "--check", action="store_true", help="only read the backup through, and write nothing"
        )
        parser.add_argument("--replace", action="store_true", help="take the place of an older one")
        parser.add_argument(
            "--with-secret-key",
            action="store_true",
            help="also the key that second factors are sealed with; without it whoever has one must"
            " set it up anew, and links that were mailed no longer work",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["check"]:
                self._check(options["file"])
            else:
                self._make(options)
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal

    def _make(self, options: dict[str, Any]) -> None:
        manifest = back_up(
            options["file"],
            replaces=options["replace"],
            with_secret_key=options["with_secret_key"],
        )
        self.stdout.write(told(manifest))
        self.stdout.write(manifest.said)
        self.stdout.write(
            f"Written to {options['file']}. Keep it on another machine; it holds people's names"
            " and data under embargo."
        )

    def _check(self, path: Path) -> None:
        checked = check_backup(path)
        manifest = checked.manifest
        self.stdout.write(f"Made on {manifest.made_at} by version {manifest.program}.")
        self.stdout.write(told(manifest))
        self.stdout.write(f"manifest {checked.digest}")
        why = misfit(manifest)
        fits = f"It does not fit this program: {why}." if why else "It fits this program."
        self.stdout.write(f"The backup is whole. {fits} {manifest.said}")
