"""Allocation: drawn again it is the same, it balances what it says, and it refuses what it must."""

from collections import Counter
from itertools import pairwise, permutations

import numpy as np
import pytest

from registry.design import (
    Stream,
    accepted_reach,
    balance_of,
    balance_table,
    blocked,
    codes,
    commitment,
    complete,
    crossover,
    is_revealed,
    latin,
    latin_square,
    leaning,
    minimised,
    new_seed,
    permuted,
    printed,
    rerandomised,
    restricted_p,
    seed_for,
    seed_from,
    variance_reduction,
    williams,
)
from registry.errors import Unsound

SEED = bytes(range(32))
TANKS = [f"T{n:02}" for n in range(1, 13)]
PINNED = "88f37ec5046558c3fd743fbb32c030329b84144030f3d2c173ce1b5c9d1a173c"


def test_an_allocation_drawn_again_is_the_same_to_the_last_letter() -> None:
    one, other = (complete(TANKS, ["still", "brisk"], Stream(SEED)) for _ in range(2))
    assert one.canonical() == other.canonical()
    # Pinned: a change of this digest would change allocations that were already drawn.
    assert one.digest == PINNED
    assert complete(TANKS, ["still", "brisk"], Stream(bytes(32))).digest != one.digest


def test_a_seed_is_committed_to_and_revealed() -> None:
    seed = new_seed()
    assert len(seed) == 32
    assert new_seed() != seed
    assert is_revealed(seed, commitment(seed).upper())
    assert not is_revealed(SEED, commitment(seed))
    assert seed_from(seed.hex()) == seed
    assert complete(TANKS, ["x", "y"], Stream(seed)).commitment == commitment(seed)
    assert len({seed_for(seed, one) for one in ("blinding", "schedule", "allocation")}) == 3


def test_every_order_of_four_is_equally_likely() -> None:
    stream = Stream(SEED)
    seen = Counter(tuple(stream.shuffled("abcd")) for _ in range(12_000))
    assert set(seen) == set(permutations("abcd"))
    chi2 = sum((count - 500) ** 2 / 500 for count in seen.values())
    assert chi2 < 49.7  # the .999 quantile with 23 degrees of freedom


def test_every_division_of_six_is_equally_likely() -> None:
    stream = Stream(seed_for(SEED, "six"))
    seen = Counter(
        frozenset(
            one.unit for one in complete("abcdef", ["x", "y"], stream).places if one.arm == "x"
        )
        for _ in range(10_000)
    )
    assert len(seen) == 20
    assert sum((count - 500) ** 2 / 500 for count in seen.values()) < 43.8  # 19 df


@pytest.mark.parametrize("units", range(3, 14))
def test_treatments_get_as_many_units_as_can_be(units: int) -> None:
    found = complete([str(n) for n in range(units)], ["x", "y", "z"], Stream(SEED))
    assert sum(found.counts.values()) == units
    assert max(found.counts.values()) - min(found.counts.values()) <= 1


def test_blocks_hold_every_treatment_and_totals_differ_by_one_at_most() -> None:
    shelves = {"top": TANKS[:5], "middle": TANKS[5:9], "low": TANKS[9:]}
    for seed in (SEED, bytes(32), b"\1" * 32):
        found = blocked(shelves, ["x", "y"], Stream(seed))
        assert max(found.counts.values()) - min(found.counts.values()) <= 1
        for shelf, units in shelves.items():
            held = Counter(one.arm for one in found.places if one.block == shelf)
            assert abs(held["x"] - held["y"]) == len(units) % 2
    assert any("top, low" in note for note in found.notes)


def test_strata_of_eight_are_halved() -> None:
    strata = {"male": [f"m{n}" for n in range(8)], "female": [f"f{n}" for n in range(8)]}
    found = blocked(strata, ["x", "y"], Stream(SEED), method="stratified randomisation")
    held = Counter((one.block, one.arm) for one in found.places)
    assert set(held.values()) == {4}
    assert found.method == "stratified randomisation"


def test_permuted_blocks_never_leave_a_treatment_far_behind() -> None:
    found = permuted([str(n) for n in range(500)], ["x", "y"], Stream(SEED))
    lead, worst = 0, 0
    for one in found.places:
        lead += 1 if one.arm == "x" else -1
        worst = max(worst, abs(lead))
    assert 2 <= worst <= 3
    assert len({len(list(size)) for size in _blocks(found)}) == 3


def _blocks(found):
    held: dict[str, list[str]] = {}
    for one in found.places:
        held.setdefault(one.block, []).append(one.arm)
    return list(held.values())[:-1]


@pytest.mark.parametrize("order", range(2, 13))
def test_a_square_is_latin_and_a_williams_design_balances(order: int) -> None:
    square = latin_square(order, Stream(SEED))
    assert all(sorted(row) == list(range(order)) for row in [*square, *zip(*square, strict=True)])
    rows = williams(order)
    assert len(rows) == order * (1 + order % 2)
    assert all(sorted(row) == list(range(order)) for row in rows)
    after = Counter(pair for row in rows for pair in pairwise(row))
    assert len(after) == order * (order - 1)
    assert set(after.values()) == {1 + order % 2}
    for place in range(order):
        assert set(Counter(row[place] for row in rows).values()) == {1 + order % 2}


def test_every_square_of_three_is_equally_likely() -> None:
    stream = Stream(seed_for(SEED, "squares"))
    seen = Counter(latin_square(3, stream) for _ in range(6000))
    assert len(seen) == 12
    assert sum((count - 500) ** 2 / 500 for count in seen.values()) < 31.3  # 11 df


def test_a_crossover_fills_its_orders_and_says_when_it_cannot() -> None:
    found = crossover(TANKS[:8], ["w", "x", "y", "z"], Stream(SEED))
    assert set(Counter(one.sequence for one in found.places).values()) == {2}
    after = Counter(pair for one in found.places for pair in pairwise(one.sequence))
    assert set(after.values()) == {2}
    assert len(found.notes) == 1
    uneven = crossover(TANKS[:7], ["w", "x", "y", "z"], Stream(SEED))
    assert any("8 would" in note for note in uneven.notes)


def test_a_latin_square_names_shelf_and_day() -> None:
    found = latin(["top", "mid", "low"], ["Mon", "Tue", "Wed"], ["x", "y", "z"], Stream(SEED))
    assert set(found.counts.values()) == {3}
    for day in ("Mon", "Tue", "Wed"):
        assert len({one.arm for one in found.places if one.unit.endswith(day)}) == 3


def test_minimisation_balances_margins_where_chance_would_not() -> None:
    draws = np.random.default_rng(1)
    units = {
        f"u{n}": {"sex": "mf"[draws.integers(2)], "clutch": "abc"[draws.integers(3)]}
        for n in range(40)
    }
    found = minimised(units, ["x", "y"], Stream(SEED), share=1)
    for factor, level in (("sex", "m"), ("sex", "f"), ("clutch", "a"), ("clutch", "b")):
        held = Counter(one.arm for one in found.places if units[one.unit][factor] == level)
        assert abs(held["x"] - held["y"]) <= 2
    leaned = minimised(units, ["x", "y"], Stream(SEED), share=0.8)
    assert leaned.digest != found.digest
    assert leaning({"sex": "m"}, [], ["x", "y"]).best == ("x", "y")


def test_rerandomisation_accepts_what_is_balanced_and_counts_what_it_accepted() -> None:
    masses = {one: [float(n), float(n * n % 7)] for n, one in enumerate(TANKS)}
    table = np.array(list(masses.values()))
    balance = balance_of(table, accept=0.1)
    every = balance.accepted()
    assert 0.05 < len(every) / 924 < 0.2
    found = rerandomised(masses, ["x", "y"], Stream(SEED))
    drawn = np.array([one.arm == "x" for one in found.places])
    assert balance.distances(drawn[None, :])[0] <= balance.limit
    assert (every == drawn).all(axis=1).any()
    # A mirror image is accepted too, so the smallest p is two over the count.
    assert accepted_reach(balance).smallest_p == pytest.approx(2 / len(every))
    outcome = drawn * 10.0 + np.arange(12) / 100
    assert restricted_p(outcome, drawn, every) == pytest.approx(2 / len(every))
    assert restricted_p(np.zeros(12), drawn, every) == 1
    assert variance_reduction(0.1, 2) > 90


def test_the_p_of_accepted_allocations_is_fair_when_nothing_differs() -> None:
    balance = balance_of(np.arange(8.0), accept=0.5)
    every = balance.accepted()
    draws = np.random.default_rng(2)
    found = [
        restricted_p(
            draws.normal(size=8) + np.arange(8) / 4, every[draws.integers(len(every))], every
        )
        for _ in range(2000)
    ]
    for level in (0.1, 0.3, 0.6):
        assert np.mean(np.array(found) <= level) <= level + 0.03


def test_codes_say_nothing() -> None:
    found = codes(TANKS, Stream(seed_for(SEED, "blinding")))
    assert len(set(found.values())) == 12
    assert all(len(code) == 3 and not set(code) & set("AEIOU") for code in found.values())
    assert list(found.values()) != sorted(found.values())
    drawn = complete(TANKS, ["still", "brisk"], Stream(SEED))
    page = printed(drawn, title="Aeration", keyholders=["the curator"], blind=found)
    key = printed(drawn, title="Aeration", keyholders=["the curator"], blind=found, with_key=True)
    assert "brisk" not in page
    assert "brisk" in key
    assert drawn.digest in page
    assert all(code in page for code in found.values())


def test_the_table_of_balance_sets_the_arms_side_by_side() -> None:
    drawn = complete(["a", "b", "c", "d"], ["x", "y"], Stream(SEED))
    first = {one.unit for one in drawn.places if one.arm == "x"}
    masses = {unit: 10.0 * (unit in first) + n for n, unit in enumerate("abcd")}
    (row,) = balance_table(drawn, {"mass": masses})
    assert row.means["x"] > row.means["y"]
    sds = [row.sds["x"], row.sds["y"]]
    pooled = (sum(one**2 for one in sds) / 2) ** 0.5
    assert row.apart == pytest.approx((row.means["x"] - row.means["y"]) / pooled)
    (same,) = balance_table(drawn, {"mass": dict.fromkeys("abcd", 1.0)})
    assert same.apart is None


@pytest.mark.parametrize(
    ("drawn", "field", "said"),
    [
        (lambda: Stream(b"12345"), "seed", "32 bytes"),
        (lambda: seed_from("not a seed"), "seed", "cannot be read"),
        (lambda: seed_from("abcd"), "seed", "32 bytes"),
        (lambda: seed_for(SEED, ""), "purpose", "needs a name"),
        (lambda: Stream(SEED).below(0), "n", "from 1 to 2^64"),
        (lambda: complete(["a"], ["x", "y"], Stream(SEED)), "units", "At least 2"),
        (lambda: complete(["a", "b"], ["x"], Stream(SEED)), "arms", "At least 2"),
        (lambda: complete(["a", "b"], ["x", "y", "z"], Stream(SEED)), "arms", "do not bear"),
        (lambda: complete(["a", "a"], ["x", "y"], Stream(SEED)), "units", "stands twice"),
        (lambda: complete(["a", " "], ["x", "y"], Stream(SEED)), "units", "no name"),
        (lambda: blocked({"p": ["a"], "q": ["a"]}, ["x", "y"], Stream(SEED)), "units", "twice"),
        (lambda: permuted("abcd", ["x", "y"], Stream(SEED), sizes=[3]), "sizes", "multiple"),
        (lambda: permuted("abcd", ["x", "y"], Stream(SEED), sizes=[]), "sizes", "at least 1"),
        (lambda: latin(["p", "q"], ["d", "e"], ["x", "y", "z"], Stream(SEED)), "rows", "as many"),
        (lambda: latin_square(27, Stream(SEED)), "order", "from 2 to 26"),
        (lambda: minimised({"a": {}, "b": {}}, ["x", "y"], Stream(SEED)), "units", "level"),
        (
            lambda: minimised({"a": {"s": "m"}, "b": {"t": "m"}}, ["x", "y"], Stream(SEED)),
            "units",
            "level",
        ),
        (
            lambda: minimised(
                {"a": {"s": "m"}, "b": {"s": "m"}}, ["x", "y"], Stream(SEED), share=0.2
            ),
            "share",
            "from 0.5 to 1",
        ),
        (
            lambda: rerandomised({one: [1.0] for one in TANKS}, ["x", "y"], Stream(SEED)),
            "covariates",
            "same in all",
        ),
        (
            lambda: rerandomised(
                {one: [float(n)] for n, one in enumerate(TANKS[:4])}, ["x", "y"], Stream(SEED)
            ),
            "accept",
            "alloc",
        ),
        (
            lambda: rerandomised(
                {one: [float(n)] for n, one in enumerate(TANKS)}, ["x", "y", "z"], Stream(SEED)
            ),
            "arms",
            "two treatments",
        ),
        (lambda: balance_of([[1.0], [float("nan")]]), "covariates", "table of numbers"),
        (lambda: balance_of(np.arange(40.0)).accepted(), "units", "too many"),
        (
            lambda: balance_table(
                complete(["a", "b"], ["x", "y"], Stream(SEED)), {"mass": {"a": 1.0}}
            ),
            "covariates",
            "not known of every unit",
        ),
        (
            lambda: restricted_p(
                [1.0, 2, 3, 4], [1, 0, 0, 0], balance_of(np.arange(4.0)).accepted()
            ),
            "first",
            "not among",
        ),
        (lambda: complete(["a", "b"], ["x", "y"], Stream(SEED)).arm_of("c"), "unit", "not in this"),
    ],
)
def test_what_cannot_be_allocated_is_refused_in_sentences(drawn, field: str, said: str) -> None:
    with pytest.raises(Unsound) as refused:
        drawn()
    assert field in refused.value.fields
    assert said in str(refused.value)
