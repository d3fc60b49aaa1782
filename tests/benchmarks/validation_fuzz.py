"""Thousands of random tables and schemas, judged by the fast way and by frictionless.

    .venv/bin/python -m tests.benchmarks.validation_fuzz [TABLES [SEED]]

Every error's type, row, field, note, message and cells are compared, and their order. The seed is
told, so that a difference can be met again; without one the day's is drawn.
"""

import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from archive.engine.fast import links, stream
from archive.engine.fast.plan import Slow
from tests.benchmarks._said import note, say
from tests.worlds.judged import ours, theirs
from tests.worlds.random_tables import write_case

TABLES = 6_000
WHOLE, FAR = stream.BLOCK_BYTES, links.FAR_BYTES


def compare(folder: Path, seed: int, counted: Counter[str]) -> None:
    """Judge the table of one seed both ways."""
    descriptor = write_case(folder, seed)
    expected = theirs(descriptor, folder, "table")
    if expected is None:
        counted["refused by frictionless"] += 1
        return
    # Small blocks put every kind of record across the seam of two; a far link goes by digests.
    stream.BLOCK_BYTES = 48 if seed % 3 == 0 else WHOLE
    links.FAR_BYTES = 0 if seed % 5 == 0 else FAR
    try:
        told = ours(descriptor, folder, "table", np.uint64(seed + 1))
    except Slow as reason:
        counted["left to the slow way"] += 1
        counted[f"left: {reason}"] += 1
        return
    counted["compared"] += 1
    counted["errors"] += len(expected)
    if told != expected:
        counted["different"] += 1
        at = next((n for n, (a, b) in enumerate(zip(told, expected, strict=False)) if a != b), None)
        note(f"seed {seed}: {len(told)} errors against {len(expected)}, first unlike at {at}")


def main() -> int:
    """Compare the tables of a run of seeds; 1 where some differ."""
    tables = int(sys.argv[1]) if len(sys.argv) > 1 else TABLES
    first = int(sys.argv[2]) if len(sys.argv) > 2 else random.SystemRandom().randrange(10**9)
    note(f"validation_fuzz: {tables:,} tables from seed {first}")
    counted: Counter[str] = Counter()
    began = time.process_time()
    with tempfile.TemporaryDirectory(prefix="fuzzed-") as place:
        for seed in range(first, first + tables):
            compare(Path(place), seed, counted)
            for left in Path(place).iterdir():
                left.unlink()
    note(f"validation_fuzz: {dict(counted)} in {time.process_time() - began:.0f} s of computing")
    if not counted["compared"]:
        note("validation_fuzz: nothing was compared")
        return 1
    say(
        f"validation_fuzz: tables unlike, of those compared, from seed {first}",
        counted["different"],
        counted["compared"],
        "tables",
    )
    return 1 if counted["different"] else 0


if __name__ == "__main__":
    sys.exit(main())
