"""Find the uses outside a limit that no breach tells of."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from registry.oversight.sweep import Swept, sweep


class Command(BaseCommand):
    help = "Go through every use on record, and name those outside a limit without a breach."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--most", type=int, default=1000, help="name so many and count the rest (1000)"
        )

    def handle(self, *args: Any, most: int, **options: Any) -> None:
        swept, found = Swept(), 0
        for one in sweep(swept):
            found += 1
            if found <= most:
                self.stdout.write(f"use {one.use}, project {one.project}, {one.code}: {one.said}")
        self.stdout.write(
            f"{swept.uses} uses of {swept.projects} projects; {swept.outside} times outside a"
            f" limit, {found} of them without a breach."
        )
        if found:
            raise CommandError(
                f"{found} times outside a limit, and no breach tells of it. Draw these uses into an"
                " audit, and have the lead supervisor explain them."
            )
