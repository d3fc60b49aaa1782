"""Tests for few animals: arrangements, intervals, recorded allocations and what is refused."""

import numpy as np
import pytest

from archive.analysis import (
    Accepted,
    Arms,
    Ordered,
    Phased,
    Rule,
    Side,
    adjusted,
    among_arms,
    among_arms_as_randomised,
    as_randomised,
    friedman,
    g_of,
    hedges_g,
    kruskal_wallis,
    logit_t,
    page,
    paired_t,
    quasi_binomial,
    randomisation,
    rank_sum,
    signed_ranks,
    unit_f,
    unit_means,
    unit_t,
)
from archive.analysis.comparing.parts import Dealt
from archive.analysis.comparing.ranks import untied_page
from registry.design import Phases, Stream, balance_of, blocked, complete, crossover, rerandomised
from registry.design.simulating.chance import Chance
from registry.errors import Unsound

TANKS = ["T1", "T2", "T3", "T4", "T5", "T6", "T7", "T8"]


def said(gaps: tuple) -> str:
    return " ".join(one.said for one in gaps)


@pytest.mark.parametrize("block", [None, ["a", "a", "b", "b", "b", "a", "b", "a", "b", "a"]])
def test_the_interval_holds_the_effects_that_are_not_rejected(block: list | None) -> None:
    draws = np.random.default_rng(6)
    treated = np.array([1, 0, 1, 0, 1, 0, 1, 0, 0, 1])
    y = draws.normal(0, 1, 10) + 2 * treated
    found = randomisation(Arms(treated, block), y)
    for end, inward in ((found.low, 1e-6), (found.high, -1e-6)):
        assert randomisation(Arms(treated, block), y - treated * (end + inward)).p > 0.05
        assert randomisation(Arms(treated, block), y - treated * (end - inward)).p <= 0.05


def test_too_few_arrangements_leave_the_interval_without_end() -> None:
    found = randomisation(Arms([1, 1, 0, 0]), [1, 2, 3, 5])
    assert (found.low, found.high) == (-np.inf, np.inf)
    assert "smallest p that these arrangements can give is 0.333" in said(found.gaps)
    assert "all 6 arrangements" in found.said


def test_drawn_arrangements_agree_with_all_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    draws = np.random.default_rng(7)
    y, arm = draws.normal(0, 1, 14), Arms([1] * 7 + [0] * 7)
    exact = randomisation(arm, y)
    monkeypatch.setattr("archive.analysis.comparing.parts.LISTED", 100)
    drawn = randomisation(arm, y, draws=20_000)
    assert (exact.drawn, drawn.drawn) == (0, 20_000)
    assert drawn.error > 0
    assert drawn.p == pytest.approx(exact.p, abs=4 * drawn.error)
    assert drawn.low == pytest.approx(exact.low, abs=0.1)
    assert drawn == randomisation(arm, y, draws=20_000)
    assert "drawn (error" in drawn.said
    assert drawn.p != randomisation(arm, y, draws=20_000, seed=2).p


def test_deals_are_drawn_as_they_are_listed() -> None:
    values = np.random.default_rng(8).normal(0, 1, (16, 2, 1))
    deal = Dealt(values, np.repeat([0, 1], 8))
    assert deal.count == 12_870
    every, drawn = deal.every(), deal.drawn(Chance(3), 40_000)
    assert len(np.unique(every.round(9))) > 12_000
    assert drawn.mean() == pytest.approx(every.mean(), abs=4 * every.std() / 200)
    assert drawn.std() == pytest.approx(every.std(), rel=0.02)


def test_changes_of_phase_are_drawn_as_they_are_listed() -> None:
    plan = Phases(sessions=30, phases="ABAB", shortest=4)
    drawn = "A" * 6 + "B" * 9 + "A" * 8 + "B" * 7
    values = np.random.default_rng(10).normal(0, 1, 30)
    (part,) = Phased([plan], [drawn]).parts(values[:, None])
    every, some = part.every(), part.drawn(Chance(4), 20_000)
    rows = np.array([list(one) for one in plan.every()]) == "B"
    by_hand = [values[row].mean() - values[~row].mean() for row in rows]
    assert every[:, 0] == pytest.approx(by_hand)
    assert part.count == len(every)
    assert some.mean() == pytest.approx(every.mean(), abs=4 * every.std() / 140)
    assert set(some[:, 0].round(9)) <= set(every[:, 0].round(9))
    # Too many to list: some are drawn, and the error is said.
    longer = Phases(sessions=80, phases="ABABAB", shortest=4)
    drawn = "".join(letter * 13 for letter in "ABAB") + "A" * 14 + "B" * 14
    found = randomisation(Phased([longer], [drawn]), range(80), draws=1000)
    assert (found.arrangements, found.drawn) == (longer.assignments, 1000)


def test_one_side_counts_one_tail() -> None:
    arm, y = Arms([1, 1, 1, 0, 0, 0]), [4, 5, 6, 1, 2, 3]
    assert randomisation(arm, y, side=Side.GREATER).p == 0.05
    assert randomisation(arm, y, side=Side.LESS).p == 1.0
    assert randomisation(arm, y, side=Side.GREATER).low is None


def test_all_ties_show_nothing_and_say_so() -> None:
    found = randomisation(Arms([1, 1, 0, 0]), [3, 3, 3, 3])
    assert found.p == 1.0
    assert "All values are the same" in said(found.gaps)


def test_arms_of_one_size_have_mirror_images() -> None:
    assert Arms([1, 0, 1, 0], ["a", "a", "b", "b"]).mirrored
    assert not Arms([1, 0, 0]).mirrored
    assert not Phased([Phases(sessions=6)], ["AAABBB"]).mirrored
    assert not Ordered(["xy", "yx"], "x", "y").mirrored


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda: randomisation(Arms([1, 0]), [1, 2, 3]), "3 values for 2 observations"),
        (lambda: randomisation(Arms([1, 0]), [1, np.nan]), "1 of 2 are"),
        (lambda: randomisation(Arms([1, 1]), [1, 2]), "The data has one treatment alone"),
        (lambda: randomisation(Arms([1, 0, 1], ["a", "a", "b"]), [1, 2, 3]), "Block 2"),
        (lambda: randomisation(Accepted([1, 0], [[0, 1]]), [1, 2]), "not among those"),
        (
            lambda: randomisation(Accepted([1, 0], [[1, 0], [1, 1]]), [1, 2]),
            "An allocation has one treatment alone",
        ),
        (lambda: Phased([Phases(sessions=6)], ["AAB"]), "do not fit the plan"),
        (
            lambda: randomisation(Phased([Phases(sessions=6)], ["AABBBB"]), range(6)),
            "the phases were A2 B4",
        ),
        (
            lambda: randomisation(Phased([Phases(sessions=6)], ["AAABBB"], "C"), range(6)),
            "“C” is no phase",
        ),
        (lambda: randomisation(Ordered(["xy", "x"], "x", "y"), [1, 2, 3]), "as many periods"),
        (lambda: randomisation(Ordered(["xx", "xy"], "x", "y"), range(4)), "both treatments"),
        (lambda: among_arms([1, 2], ["a", "a"]), "fewer than two"),
        (lambda: among_arms([1, 2], ["a", "b"], block=["s"]), "needs a block"),
        (lambda: among_arms([1, 2, 3], ["a", "b", "a"], block=["s", "s", "t"]), "not every arm"),
        (lambda: signed_ranks([1, 2], [1, 2]), "No pair differs"),
        (lambda: rank_sum([], [1]), "cannot be ranked"),
        (lambda: kruskal_wallis([1, 1], ["a", "b"]), "All values are the same"),
        (lambda: friedman([[1, 1], [2, 2]]), "No animal differs"),
        (lambda: page([[1, 2]]), "Two animals"),
        (lambda: unit_t([1], [1, 2]), "no replication"),
        (lambda: paired_t([1, 2], [1, 2, 3]), "no pairs"),
        (lambda: unit_f([1, 2]), "Two arms"),
        (lambda: unit_f([1, 1], [2, 2]), "spread is 0"),
        (lambda: unit_means([1, 2], ["t", "t"], ["x", "y"]), "stands in two arms"),
        (lambda: unit_means([np.nan], ["t"], ["x"]), "No row has a value"),
        (lambda: logit_t([5, 4], [4, 4], [1, 1], [4, 4]), "above its total"),
        (lambda: quasi_binomial([1, 0], [4, 0], [1, 1], [4, 4]), "1 tanks with anything"),
        (lambda: adjusted([1.2]), "from 0 to 1"),
        (lambda: hedges_g([1], [1, 2]), "Two units"),
        (lambda: g_of(1, 0, 4, 4), "above 0"),
    ],
)
def test_what_cannot_be_tested_is_refused_in_sentences(act, why: str) -> None:
    with pytest.raises(Unsound, match=why):
        act()


def test_pairs_that_do_not_differ_are_left_out_and_said() -> None:
    found = signed_ranks([1, 2, 5], [1, 1, 1])
    assert found.arrangements == 4
    assert "1 pairs are left out" in said(found.gaps)


def test_many_conditions_have_no_table_of_untied_ranks() -> None:
    assert untied_page(1000, 2, 9) is None


def test_animals_of_a_tank_are_one_value() -> None:
    found = unit_means(
        [1, 3, np.nan, 7, np.nan], ["t1", "t1", "t2", "t2", "t3"], ["x", "x", "y", "y", "y"]
    )
    assert found.values.tolist() == [2, 7]
    assert found.in_arm("y").tolist() == [False, True]
    assert "2 rows are left out" in said(found.gaps)
    assert "Nothing is known of t3" in said(found.gaps)


def test_no_spread_between_units_is_said() -> None:
    found = unit_t([2, 2], [1, 1])
    assert np.isnan(found.p)
    assert "The spread is 0" in said(found.gaps)


def test_none_or_all_lends_half_an_animal() -> None:
    found = quasi_binomial([0, 0, 0], [9, 9, 9], [5, 6, 4], [9, 9, 9])
    assert np.isfinite(found.t)
    assert "half an animal" in said(found.gaps)


def test_an_allocation_is_analysed_as_it_was_drawn() -> None:
    free = complete(TANKS, ["still", "brisk"], Stream(bytes(32)))
    shelves = {"top": TANKS[:4], "low": TANKS[4:]}
    dealt = blocked(shelves, ["still", "brisk"], Stream(bytes(32)))
    grown = {name: float(place**2) for place, name in enumerate(TANKS)}
    assert as_randomised(free, grown, treatment="brisk")[0].arrangements == 70
    assert as_randomised(dealt, grown, treatment="brisk")[0].arrangements == 36
    found, gaps = as_randomised(dealt, grown | {"T1": np.nan, "T9": 1.0}, treatment="brisk")
    assert found.arrangements in {18, 36 // 2}
    assert "T9 are left out" in said(gaps)
    assert "T1 are left out. They have no outcome" in said(gaps)
    top = [one.unit for one in dealt.places if one.block == "top" and one.arm == "still"]
    found, gaps = as_randomised(dealt, grown | dict.fromkeys(top, np.nan), treatment="brisk")
    assert found.arrangements == 6
    assert "Block top is left out" in said(gaps)


def test_several_treatments_are_analysed_as_they_were_drawn() -> None:
    dealt = complete([*TANKS, "T9"], ["x", "y", "z"], Stream(bytes(32)))
    found, gaps = among_arms_as_randomised(dealt, {n: float(len(n)) + k for k, n in
                                                   enumerate([*TANKS, "T9"])})  # fmt: skip
    assert found.arrangements == 1680
    # Three arms have six orders, and what counts is the same in each.
    assert found.smallest_p == pytest.approx(6 / 1680)
    assert gaps == ()
    with pytest.raises(Unsound, match="compares two arms"):
        as_randomised(dealt, dict.fromkeys(TANKS, 1.0), treatment="x")


def test_a_level_that_all_units_share_changes_nothing() -> None:
    y, arms = np.array([1.0, 5, 2, 8, 3, 4, 9]), list("xxyyzzz")
    for block in (None, ["s"] * 7):
        assert among_arms(y, arms, block=block).p == among_arms(y + 100, arms, block=block).p


def test_a_rerandomised_allocation_needs_the_accepted_ones() -> None:
    masses = {name: [float(place**2)] for place, name in enumerate(TANKS)}
    drawn = rerandomised(masses, ["still", "brisk"], Stream(bytes(32)), accept=0.9)
    accepted = balance_of(list(masses.values()), accept=0.9).accepted()
    grown = {name: float(place) for place, name in enumerate(TANKS)}
    found, _ = as_randomised(drawn, grown, treatment="still", accepted=accepted)
    assert found.arrangements == len(accepted) < 70
    with pytest.raises(Unsound, match="accepted ones alone"):
        as_randomised(drawn, grown, treatment="still")


def test_orders_are_not_taken_for_arms() -> None:
    drawn = crossover(TANKS, ["x", "y"], Stream(bytes(32)))
    with pytest.raises(Unsound, match="give the orders to `Ordered`"):
        as_randomised(drawn, dict.fromkeys(TANKS, 1.0), treatment="x")


def test_adjusting_never_lowers_a_p_value() -> None:
    p = np.random.default_rng(9).random(20)
    rows = [adjusted(p, rule) for rule in (Rule.FALSE_DISCOVERY, Rule.HOLM, Rule.BONFERRONI)]
    assert (p <= rows[0]).all()
    assert (rows[0] <= rows[1]).all()
    assert (rows[1] <= rows[2]).all()
