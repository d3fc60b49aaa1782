"""Allocation against standards, tables and worked examples; the source stands beside each check."""

import hashlib
import hmac
from collections import Counter
from itertools import pairwise

import numpy as np
import pytest

from registry.design import (
    Stream,
    balance_of,
    latin_square,
    leaning,
    reduced_squares,
    variance_reduction,
    williams,
)

pytestmark = pytest.mark.outside


def test_the_stream_is_the_hmac_of_the_standard() -> None:
    # RFC 4231, test case 2: key “Jefe”.
    said = hmac.new(b"Jefe", b"what do ya want for nothing?", hashlib.sha256).hexdigest()
    assert said == "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    # Our words, from the standard's function and an eight-byte counter, written out by hand.
    seed = bytes(range(32))
    blocks = b"".join(
        hmac.new(seed, counter.to_bytes(8, "big"), hashlib.sha256).digest() for counter in range(3)
    )
    words = [int.from_bytes(blocks[n : n + 8], "big") for n in range(0, 96, 8)]
    stream = Stream(seed)
    assert [stream.below(2**64) for _ in range(12)] == words
    # The vector of the project's notes, computed apart from this code.
    tanks = [f"T{n:02}" for n in range(1, 13)]
    wanted = "T12 T03 T07 T01 T11 T04 T05 T09 T08 T02 T10 T06"
    assert Stream(seed).shuffled(tanks) == wanted.split()


def test_a_draw_leaves_out_what_would_favour_some() -> None:
    # Of 3·2^62 numbers a quarter of all words is left out; the rest are spread evenly over thirds.
    stream, n = Stream(bytes(32)), 3 * 2**62
    thirds = Counter(stream.below(n) // 2**62 for _ in range(6000))
    assert sum((count - 2000) ** 2 / 2000 for count in thirds.values()) < 13.8  # .999, 2 df


def test_orders_against_williams() -> None:
    # Williams (1949): the square of four, and every ordered pair once (even) or twice (odd).
    assert ["".join("ABCD"[one] for one in row) for row in williams(4)] == [
        "ABDC",
        "BCAD",
        "CDBA",
        "DACB",
    ]
    for order, pairs, times in (
        (4, 12, 1),
        (6, 30, 1),
        (8, 56, 1),
        (3, 6, 2),
        (5, 20, 2),
        (7, 42, 2),
    ):
        after = Counter(pair for row in williams(order) for pair in pairwise(row))
        assert len(after) == pairs
        assert set(after.values()) == {times}


def test_latin_squares_against_the_published_counts() -> None:
    # Fisher and Yates, Statistical Tables; the sequence A000315: 1, 1, 4, 56 for orders 2 to 5.
    assert [len(reduced_squares(order)) for order in (2, 3, 4, 5)] == [1, 1, 4, 56]
    # All squares of four: 4 · 4! · 3! = 576; a long run of draws meets each of them.
    stream = Stream(bytes(32))
    assert len({latin_square(4, stream) for _ in range(8000)}) == 576


def test_minimisation_against_a_worked_example() -> None:
    # Lim and In (2019), Korean Journal of Anesthesiology 72, 221–232, table 4 (PMC6547231): with an
    # imbalance of 3 against 5 the unit goes to control. Margins made here so as to give those sums.
    new = {"sex": "f", "age": "old", "size": "large"}
    earlier = [
        ({"sex": "m", "age": "young", "size": "large"}, "treatment"),
        ({"sex": "m", "age": "young", "size": "large"}, "treatment"),
    ]
    found = leaning(new, earlier, ["control", "treatment"])
    assert found.imbalance == {"control": 3, "treatment": 5}
    assert found.best == ("control",)


@pytest.mark.parametrize(("covariates", "said"), [(2, 99.9), (5, 97.0), (10, 87.9), (20, 73.8)])
def test_rerandomisation_against_morgan_and_rubin(covariates: int, said: float) -> None:
    # Morgan and Rubin (2012), table of per cent reduction in variance with .001 accepted.
    assert variance_reduction(0.001, covariates) == pytest.approx(said, abs=0.05)


def test_rerandomisation_narrows_as_the_formula_says() -> None:
    # Independent of the formula: allocations drawn, and the variance of the differences counted.
    draws = np.random.default_rng(4)
    table = draws.normal(size=(60, 2))
    balance = balance_of(table, accept=0.1)
    rows = np.zeros((40_000, 60), dtype=bool)
    rows[:, :30] = True
    rows = draws.permuted(rows, axis=1)
    kept = rows[balance.distances(rows) <= balance.limit]
    assert len(kept) / len(rows) == pytest.approx(0.1, abs=0.01)

    def apart(allocations):
        return allocations @ table[:, 0] / 30 - ~allocations @ table[:, 0] / 30

    narrowed = 100 * (1 - np.var(apart(kept)) / np.var(apart(rows)))
    assert narrowed == pytest.approx(variance_reduction(0.1, 2), abs=1.5)
