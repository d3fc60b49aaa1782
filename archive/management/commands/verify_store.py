"""Read every version's object again, byte by byte, and say what is wrong."""

import sys
from typing import Any

from django.core.management.base import BaseCommand

from archive.models import Version
from archive.places import store
from registry import notes
from registry.errors import Refusal

MOST_TOLD = 50
"""Faults that the note of the last verification keeps."""


class Command(BaseCommand):
    help = (
        "Verify the bytes of each version that is kept: against the digests inside its object, and"
        " against those in the database. Exit code 0: all well; 1: something is wrong."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        held, bad, read = store(), 0, 0
        told: list[str] = []
        rows = Version.objects.filter(is_published=True).exclude(state="erased").order_by("pk")
        for version in rows.iterator():
            read += 1
            faults = [
                str(problem) for problem in held.verify(version.identifier) if problem.is_error
            ]
            faults += _differences(version)
            bad += bool(faults)
            for fault in faults:
                told.append(f"{version.identifier}: {fault}")
                self.stdout.write(told[-1])
        said = f"{read} versions read, {bad} with something wrong."
        self.stdout.write(said)
        notes.write_note("verify_store", faults=bad, said=[said, *told[:MOST_TOLD]])
        if bad:
            sys.exit(1)


def _differences(version: Version) -> list[str]:
    """Hold the object's list of files against the one that the database keeps."""
    try:
        found = {
            file.logical: {"bytes": file.bytes, "sha256": file.sha256, "sha512": file.sha512}
            for file in store().manifest(version.identifier).files
        }
    except Refusal as refusal:
        return [refusal.why]
    if found == version.manifest:
        return []
    odd = sorted(
        name
        for name in found.keys() | version.manifest.keys()
        if found.get(name) != version.manifest.get(name)
    )
    return [f"its files are not those of the database: {', '.join(odd)}"]
