"""Thousands of random pairs of dictionaries, with tables that frictionless judges under both.

    .venv/bin/python -m tests.benchmarks.extending_fuzz [PAIRS [SEED]]

Told: how many pairs were called compatible though a table that was valid under the old one fails
under the new, which must be none; and how many were called otherwise though every table held.
"""

import random
import sys
import time

from tests.benchmarks._said import note, say
from tests.worlds.schema_pairs import judge

PAIRS = 3_000


def main() -> int:
    """Judge the pairs of a run of seeds; 1 where some were called compatible and are not."""
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else PAIRS
    first = int(sys.argv[2]) if len(sys.argv) > 2 else random.SystemRandom().randrange(10**9)
    note(f"extending_fuzz: {pairs:,} pairs from seed {first}")
    began = time.process_time()
    counted, wrong = judge(range(first, first + pairs), tables=2, also=True)
    for one in wrong:
        note(f"extending_fuzz: wrongly called compatible, seed {one}")
    note(f"extending_fuzz: {dict(counted)} in {time.process_time() - began:.0f} s of computing")
    say(
        f"extending_fuzz: wrongly called compatible, of those so called, from seed {first}",
        len(wrong),
        counted["compatible"],
        "pairs",
    )
    return 1 if wrong or not counted["tables"] else 0


if __name__ == "__main__":
    sys.exit(main())
