"""Read every version's object again, byte by byte, and say what is wrong."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from archive.copies.examining import faults_of
from archive.copies.models import Copy
from archive.copies.rounds import FIRST, stores
from archive.models import Version
from registry import notes

MOST_TOLD = 50
"""Faults that the note of the last verification keeps."""


class Command(BaseCommand):
    help = (
        "Verify the bytes of each version that is kept, in each store: against the digests inside"
        " its object, and against those in the database. Exit code 0: all well; 1: something is"
        " wrong."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        bad = read = 0
        told: list[str] = []
        rows = Version.objects.filter(is_published=True).exclude(state="erased").order_by("pk")
        for version in rows.iterator():
            read += 1
            faults = self._faults(version)
            bad += bool(faults)
            for fault in faults:
                told.append(f"{version.identifier}: {fault}")
                self.stdout.write(told[-1])
        said = f"{read} versions read, {bad} with something wrong."
        self.stdout.write(said)
        notes.write_note("verify_store", faults=bad, said=[said, *told[:MOST_TOLD]])
        if bad:
            sys.exit(1)

    @staticmethod
    def _faults(version: Version) -> list[str]:
        """Read each copy that there should be; what is wrong with the second says so."""
        noted = set(version.copies.values_list("place", flat=True))
        return [
            fault if place == FIRST else f"{Copy.Place(place).label}: {fault}"
            for place, held in stores().items()
            if place == FIRST or place in noted
            for fault in faults_of(held, version)
        ]
