"""Make the second copy of each version that has none."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from archive.copies.rounds import SECOND, make_copy, without_copy
from archive.models import Version
from archive.places import second_store
from registry.errors import Refusal


class Command(BaseCommand):
    help = (
        "Copy each version that has no copy in the second store, byte for byte, and read each copy"
        " back. Broken off, it is given again. Exit code 1: a version could not be copied."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        second = second_store()
        if second is None:
            raise CommandError(
                "There is no second store. Name one in STRANDLINE_SECOND_STORE, best in another"
                " building, and give the command again."
            )
        made = failed = 0
        for pk in without_copy(SECOND):
            try:
                made += make_copy(pk, SECOND)
            except Refusal as refusal:
                failed += 1
                identifier = Version.objects.values_list("identifier", flat=True).get(pk=pk)
                self.stdout.write(f"{identifier}: {refusal.why}")
        self.stdout.write(f"{made} versions copied to {second.where}, {failed} could not be.")
        if failed:
            sys.exit(1)
