"""Load the dated lists of reference data, such as taxa, procedures and kinds of body."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from registry.desk.actions import load_vocabulary
from registry.desk.vocabulary import FOLDER, KINDS, read_lists
from registry.errors import Refusal
from registry.people.models import the_clock


class Command(BaseCommand):
    """Load every list; what is there already is brought up to date, and nothing is taken away."""

    help = "Load the reference data of fixtures/vocabulary; a second run changes nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--folder",
            type=Path,
            default=FOLDER,
            help="where the lists are (default: fixtures/vocabulary)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            loaded = load_vocabulary(read_lists(options["folder"]), by=the_clock())
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        for kind, one in zip(KINDS, loaded, strict=True):
            self.stdout.write(
                f"{kind.file_name}, {one.dated}: {one.rows} rows, "
                f"{one.new} new, {one.changed} changed"
            )
