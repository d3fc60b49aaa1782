"""Verify that the ledger was not altered."""

import json
import re
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from registry import notes
from registry.ledger import proof

MOST_TOLD = 50
"""Faults that the note of the last verification keeps."""
_ANCHOR = re.compile(r"\b(\d+)\D+?\b([0-9a-f]{64})\b")


def read_anchor(path: Path) -> tuple[int, str]:
    """Give the number and the digest that were kept elsewhere.

    Raises
    ------
    CommandError
        When the file cannot be read, or holds none.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as problem:
        raise CommandError(f"The file {path} cannot be read: {problem}") from problem
    try:
        kept = json.loads(text)
        kept = kept.get("x:ledger", kept)
        return int(kept["number"]), str(kept["digest"])
    except (ValueError, KeyError, TypeError, AttributeError):
        found = _ANCHOR.search(text)
    if found is None:
        raise CommandError(
            f"The file {path} holds no number and digest of an entry. Give the last line that "
            "this command printed, or the datapackage.json of a version."
        )
    return int(found[1]), found[2]


class Command(BaseCommand):
    help = "Verify that the ledger was not altered, and print its head to be kept elsewhere."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--subjects",
            action="store_true",
            help="compare the rows with their entries: finds those re-written, vanished, smuggled",
        )
        parser.add_argument(
            "--anchor",
            type=Path,
            metavar="FILE",
            help="compare with a head kept elsewhere: finds a cut tail and a recomputed chain",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        anchor = read_anchor(options["anchor"]) if options["anchor"] else None
        found, reading = proof.check(with_subjects=options["subjects"], anchor=anchor)
        lines = [
            (f"entry {fault.number}: " if fault.number else "") + fault.what for fault in found
        ]
        for line in lines:
            self.stderr.write(line)
        said = f"{reading.entries} entries"
        if options["subjects"]:
            said += f", {len(reading.newest)} rows"
        head = f"head {reading.head.number} {reading.head.digest}" if reading.head else "no head"
        self.stdout.write(f"{said} read")
        self.stdout.write(head)
        notes.write_note(
            "verify_ledger", faults=len(lines), said=[f"{said} read", head, *lines[:MOST_TOLD]]
        )
        if found:
            raise CommandError(
                f"{len(found)} faults. The record was altered, or the database was damaged: keep "
                "a copy as it is, tell the auditor, and compare with the newest backup."
            )
