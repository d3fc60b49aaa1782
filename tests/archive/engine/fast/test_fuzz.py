"""Random tables: the fast way and frictionless give one list of errors, word for word."""

from collections import Counter

import numpy as np
import pytest

from archive.engine import way
from archive.engine.fast import stream
from archive.engine.fast.plan import Slow
from tests.worlds.judged import ours, theirs
from tests.worlds.random_tables import write_case

CASES = 1_000
PARTS = 4


@pytest.mark.parametrize("part", range(PARTS))
def test_random_tables_are_judged_word_for_word_as_frictionless_judges_them(
    part, tmp_path, monkeypatch
):
    counted: Counter[str] = Counter()
    whole = stream.BLOCK_BYTES
    for seed in range(part, CASES, PARTS):
        # Small blocks put every kind of record across the seam of two blocks; a far link is one
        # that is followed by digests.
        monkeypatch.setattr(stream, "BLOCK_BYTES", 48 if seed % 3 == 0 else whole)
        monkeypatch.setattr("archive.engine.fast.links.FAR_BYTES", 0 if seed % 5 == 0 else 10**9)
        descriptor = write_case(tmp_path, seed)
        try:
            told = ours(descriptor, tmp_path, "table", np.uint64(seed + 1))
        except Slow:
            counted["slow"] += 1
            continue
        except (ArithmeticError, TypeError):
            # Opened, frictionless itself crashes: so it does the slow way.
            counted["crashed"] += 1
            continue
        expected = theirs(descriptor, tmp_path, "table")
        assert told == expected, f"seed {seed}"
        counted["same"] += 1
        counted["errors"] += len(told)
    assert counted["same"] > 0.6 * CASES / PARTS, counted
    assert counted["errors"] > 10 * counted["same"], counted


@pytest.mark.parametrize("seed", [77_000_479, 77_001_030])
def test_a_line_break_in_a_cell_beyond_the_last_column_is_told_as_frictionless_tells_it(
    seed, tmp_path
):
    descriptor = write_case(tmp_path, seed)
    expected = theirs(descriptor, tmp_path, "table")
    assert any("a\nb" in cells for *_, cells in expected)
    assert ours(descriptor, tmp_path, "table", np.uint64(1)) == expected


def test_the_limits_that_the_fuzz_moves_are_those_of_the_engine():
    assert way.FAR_BYTES == way.SMALL_BYTES == 300_000
    assert stream.BLOCK_BYTES == 1 << 22
