"""Hand in two large tables, or two bombs, as two students do; wait until both were checked."""

import random
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from archive import actions
from archive.models import Deposit
from archive.rounds import take_in
from archive.tasks import enqueue_check
from registry.permissions import Part
from registry.projects.models import Project
from tests.benchmarks._said import note

type Contents = Callable[[list[dict[str, Any]]], Iterator[bytes]]

SEED = 20261125
LONGEST_S = 900.0
AT_ONCE = 5000
MEGABYTE = 1 << 20
_FIRST = datetime(2026, 2, 1, 8)  # noqa: DTZ001  # as a student's table writes it


def cells(field: dict[str, Any], draw: random.Random, row: int) -> str:
    """Write a cell that its field takes."""
    listed = field.get("x:ethogram") or field.get("categories") or ()
    codes = [one.get("code", one.get("value")) if isinstance(one, dict) else one for one in listed]
    moment = _FIRST + timedelta(minutes=row)
    if codes:
        return str(draw.choice(codes))
    if field["type"] == "datetime":
        return moment.isoformat()
    if field["type"] == "date":
        return moment.date().isoformat()
    if field["type"] in {"integer", "number"}:
        return str(draw.randrange(1, 9))
    return f"{field['name'][:1].upper()}-{draw.randrange(1, 40):02}"


def table(fields: list[dict[str, Any]], rows: int, seed: int) -> Iterator[bytes]:
    """Give a table in pieces, from a seed."""
    draw = random.Random(seed)
    yield (",".join(field["name"] for field in fields) + "\n").encode()
    for begins in range(0, rows, AT_ONCE):
        lines = (
            ",".join(cells(field, draw, row) for field in fields)
            for row in range(begins, min(rows, begins + AT_ONCE))
        )
        yield ("\n".join(lines) + "\n").encode()


def endless_cell() -> Iterator[bytes]:
    """Give one cell of 150 MB."""
    yield b"session\n"
    yield from [b"a" * MEGABYTE] * 150


def endless_quotes() -> Iterator[bytes]:
    """Give a quotation mark that is never closed, and 100 MB of lines behind it."""
    yield b'session\n"'
    yield from [b"a\n" * (MEGABYTE // 2)] * 100


def hand_in(project: Project, contents: Contents) -> Deposit:
    """Open a deposit, add a file in place of the table that most rows stand in, and submit it."""
    student = project.members.live().filter(part=Part.STUDENT)[0].person
    dictionary = project.study.dictionaries.all()[0]
    resource = dictionary.descriptor["resources"][0]
    opened = actions.open_deposit(project, dictionary=dictionary, note="", by=student)
    kept = take_in(opened, f"{resource['name']}.csv", contents(resource["schema"]["fields"]))
    actions.add_files(opened, kept=[kept], by=student)
    submitted = actions.submit_deposit(opened, by=student)
    enqueue_check(submitted)
    return submitted


def main() -> None:
    """Hand in, wait, and leave a sign: as many rows as are asked for, or bombs where none are."""
    rows, sign = int(sys.argv[1]), Path(sys.argv[2])
    made: list[Contents] = [
        lambda fields: table(fields, rows, SEED),
        lambda fields: table(fields, rows, SEED + 1),
    ]
    if not rows:
        made = [lambda _: endless_cell(), lambda _: endless_quotes()]
    studied = Project.objects.filter(state="collecting", study__dictionaries__isnull=False)
    named = studied.filter(study__title__startswith="Pebble").distinct().order_by("pk")
    first = 0 if rows else 2
    chosen = zip(named[first : first + 2], made, strict=True)
    deposits = [hand_in(project, contents) for project, contents in chosen]
    began = time.monotonic()
    while time.monotonic() - began < LONGEST_S:
        states = Deposit.objects.filter(pk__in=[one.pk for one in deposits])
        if not states.filter(state__in=["opened", "submitted"]).exists():
            break
        time.sleep(0.5)
    note(f"  both were checked after {time.monotonic() - began:.0f} s")
    sign.touch()


if __name__ == "__main__":
    main()
