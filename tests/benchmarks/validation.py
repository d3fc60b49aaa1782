"""A large table checked: our fast way, the whole check with it, and frictionless, side by side.

    .venv/bin/python -m tests.benchmarks.validation [ROWS [ROWS_FOR_MEMORY]]

Times are of computing, threads included, both sides in this very run; the kernel is loaded and the
libraries are imported before. Either side makes every error with its message, and the two lists
must be equal. Memory is what a fresh process needs beyond its imports.
"""

import copy
import gc
import hashlib
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from frictionless import Package, system

from archive.engine.fast.render import as_six, cells_of
from archive.engine.fast.run import FastTable
from archive.engine.run import check
from tests.benchmarks._rows import descriptor, write_rows
from tests.benchmarks._said import note, say
from tests.worlds.judged import no_cut

ROWS = 1_000_000
MEMORY_ROWS = 5_000_000
BUDGET_MB = 350
MEASURE = """
import json, sys
from pathlib import Path
from tests.benchmarks._rows import write_rows
from tests.benchmarks.validation import ours
room = Path(sys.argv[1])
write_rows(room / "small", 200)
ours(room / "small")
def megabytes(name):
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024
Path("/proc/self/clear_refs").write_text("5")  # the peak is counted from here on
before = megabytes("VmRSS")
found = len(ours(room).said)
print(json.dumps([found, megabytes("VmHWM") - before]))
"""


class Told(NamedTuple):
    """What each error says, and the errors themselves."""

    said: list[tuple[Any, ...]]
    errors: list[Any]
    cut: Callable[[bytes], list[str]] = no_cut

    def cells(self) -> list[list[str]]:
        """Give the cells of each error's row."""
        return [cells_of(error, self.cut) for error in self.errors]


def resource_of(folder: Path) -> Any:
    """Open the package with its layout pinned, as the engine does."""
    package = Package.from_descriptor(copy.deepcopy(descriptor()), basepath=str(folder))
    return package.get_resource("rows")


def ours(folder: Path) -> Told:
    """Check a table the fast way: every error, with what it says."""
    with system.use_context(trusted=False, onerror="ignore", standards="v2"):
        resource = resource_of(folder)
        resource.to_descriptor(validate=True)
        with resource:
            table = FastTable(resource)
            errors = list(table.errors())
            return Told([as_six(error) for error in errors], errors, table.cut)


def theirs(folder: Path) -> Told:
    """Check it with frictionless, without a limit."""
    with system.use_context(trusted=False, onerror="ignore", standards="v2"):
        (task,) = resource_of(folder).validate(limit_errors=0).tasks
        return Told([as_six(error) for error in task.errors], task.errors)


def whole(folder: Path) -> int:
    """Check the whole package as an upload is checked: bytes, quotes, own checks, columns."""
    os.environ["STRANDLINE_ENGINE"] = "fast"
    report = check(folder, descriptor=descriptor())
    notes = [table.note for table in report.tables if table.note]
    assert not notes, notes
    return len(report.findings)


def floor(folder: Path) -> int:
    """Read the file and digest it."""
    digest, size = hashlib.sha256(), 0
    with (folder / "rows.csv").open("rb", buffering=0) as file:
        while block := file.read(1 << 20):
            digest.update(block)
            size += len(block)
    return size


def timed(work: Callable[[Path], Any], folder: Path, times: int = 1) -> tuple[float, Any]:
    """Give the least computing time of some runs, in seconds, and what came out."""
    least, found = float("inf"), None
    for _ in range(times):
        began = time.process_time()
        found = work(folder)
        least = min(least, time.process_time() - began)
    return least, found


def compare(case: str, folder: Path, times: int) -> None:
    """Check one table both ways; the two must say the same."""
    mine, told = timed(ours, folder, times)
    checked, findings = timed(whole, folder, times)
    other, expected = timed(theirs, folder)
    assert told.said == expected.said, f"{case}: {len(told.said)} against {len(expected.said)}"
    # The cells of each row are no part of what an error says, and still the same.
    assert told.cells() == expected.cells(), case
    assert findings >= len(expected.said)
    note(f"{case}: {len(told.said):,} errors, the same on both sides, word for word")
    say(f"{case}, errors with messages", mine, other, "s of computing")
    say(f"{case}, the whole check", checked, other, "s of computing")


def main() -> None:
    """Measure every case."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    for_memory = int(sys.argv[2]) if len(sys.argv) > 2 else MEMORY_ROWS
    with tempfile.TemporaryDirectory(prefix="measured-") as place:
        room = Path(place)
        write_rows(room / "warm", 500, bad_rows=0.3)
        ours(room / "warm")
        whole(room / "warm")
        # Neither side's collector goes over the libraries of both again and again.
        gc.collect()
        gc.freeze()
        cases = [
            (f"validation: {rows // 100:,} rows", rows // 100, {}, 5),
            (f"validation: {rows:,} clean rows", rows, {}, 3),
            (f"validation: {rows:,} rows, one in a hundred bad", rows, {"bad_rows": 0.01}, 3),
            (f"validation: {rows:,} rows, one cell in a hundred bad", rows, {"bad_cells": 0.01}, 3),
        ]
        for case, count, spoilt, times in cases:
            folder = room / str(abs(hash(case)))
            path = write_rows(folder, count, **spoilt)
            compare(case, folder, times)
            if count == rows and not spoilt:
                least, _ = timed(floor, folder, 3)
                mine, _ = timed(ours, folder, 3)
                say(
                    "validation: read and digest alone, against our check",
                    least,
                    mine,
                    "s of computing",
                )
            path.unlink()
        write_rows(room / "large", for_memory)
        command = [sys.executable, "-c", MEASURE, str(room / "large")]
        run = subprocess.run(command, check=True, capture_output=True, text=True)
        found, needed = json.loads(run.stdout.splitlines()[-1])
        assert not found, found
        say(
            f"validation: memory for {for_memory:,} rows, against the budget",
            needed,
            BUDGET_MB,
            "MB",
        )


if __name__ == "__main__":
    main()
