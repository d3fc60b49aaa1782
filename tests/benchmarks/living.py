"""Reads of the living collection at 5,000 animals and at 50,000, with ten events for each.

Each case gives the seconds, the queries or the megabytes at 50,000 animals (500,000 events, 5,000
groups); the other side is ten times what 5,000 took, so that a ratio of 1 is growth in a straight
line. For queries the other side is their number at 5,000: a ratio of 1 is a constant number.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks._said import note, say
from tests.benchmarks._surroundings import _START, ROOT, around_of

SIZES = (5_000, 50_000)


def measured_at(number: int) -> dict[str, dict[str, float]]:
    """Lay out a collection of so many animals in a folder of its own, and measure each read."""
    with tempfile.TemporaryDirectory() as folder:
        around = around_of(Path(folder))
        migrate = [sys.executable, "manage.py", "migrate", "-v0"]
        subprocess.run(migrate, cwd=ROOT, env=around, check=True, stdout=subprocess.DEVNULL)
        command = [sys.executable, "-c", _START, "tests.benchmarks._living", str(number)]
        told = subprocess.run(command, cwd=ROOT, env=around, check=True, stdout=subprocess.PIPE)
        found: dict[str, dict[str, float]] = json.loads(told.stdout)
        return found


def main() -> None:
    """Measure both sizes, and say how each case grew."""
    few, many = (measured_at(number) for number in SIZES)
    note(f"  measured at {SIZES}")
    for case, at in many.items():
        say(f"{case}: queries", at["queries"], few[case]["queries"], "queries")
        say(f"{case}: time", at["s"], 10 * few[case]["s"], "s")
        say(f"{case}: memory", at["mb"], 10 * few[case]["mb"], "MB")


if __name__ == "__main__":
    main()
