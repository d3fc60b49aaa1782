"""Trials: the tank stays the unit, and what cannot be computed is said."""

import numpy as np
import pytest

from archive.analysis import (
    Curve,
    beta_binomial,
    condition,
    degree_days,
    dose_response,
    exact_share,
    feed_conversion,
    fit_curve,
    fitted_q10,
    growth_rate,
    hatching_days,
    hatching_success,
    length_weight,
    log_rank,
    logit_fit,
    q10,
    restricted_mean,
    spread_of_shares,
    survival,
    tank_conversion,
    tank_growth,
    tank_log_rank,
    thermal_sum,
    unit_t,
)
from registry.errors import Unsound


def said(gaps: tuple) -> str:
    return " ".join(one.said for one in gaps)


def test_a_tank_grows_once_however_many_animals_are_in_it() -> None:
    rows = [
        ("a", "still", 0, 9), ("a", "still", 0, 11), ("a", "still", 35, 20),
        ("b", "still", 0, 10), ("b", "still", 20, 15), ("b", "still", 35, 40),
        ("c", "brisk", 0, 10), ("c", "brisk", 35, 30), ("c", "brisk", 35, np.nan),
        ("d", "brisk", 0, 10),
    ]  # fmt: skip
    tank, arm, day, mass = zip(*rows, strict=True)
    found, gaps = tank_growth(mass, day, tank, arm)
    assert found.names == ("a", "b", "c")
    assert found.values == pytest.approx(100 * np.log([2, 4, 3]) / 35)
    assert found.arms == ("still", "still", "brisk")
    assert "1 rows are left out" in said(gaps)
    assert "No growth of d. It was weighed on one day alone" in said(gaps)
    with pytest.raises(Unsound, match="no replication"):
        unit_t(found.values[found.in_arm("brisk")], found.values[found.in_arm("still")])


def test_a_tank_that_gained_nothing_has_no_feed_conversion() -> None:
    found, gaps = tank_conversion([10, 10, 10], [5, 0, np.nan], ["a", "b", "c"], ["x"] * 3)
    assert found.values.tolist() == [2.0]
    assert "No feed conversion of b and c" in said(gaps)


def test_hatching_is_told_of_laid_and_of_fertile_eggs() -> None:
    found = hatching_success([10, 10, 4], [8, 10, 0], [8, 5, 0])
    assert (found.laid, found.fertile, found.hatched) == (24, 18, 13)
    assert found.of_fertile.value == pytest.approx(13 / 18)
    assert found.tanks_of_laid.mean == pytest.approx((0.8 + 0.5 + 0) / 3)
    assert found.tanks_of_fertile.n == 2
    assert "1 tanks say nothing of the share of fertile eggs" in said(found.gaps)
    assert hatching_success([4], [0], [0]).of_fertile is None


def test_litters_that_differ_by_chance_alone_are_not_alike() -> None:
    assert beta_binomial([5, 5, 5, 5], [10, 10, 10, 10]).correlation == 0.0


def test_days_of_incubation_run_to_the_last_look() -> None:
    found = hatching_days(["2026-01-01"] * 2, ["2026-05-31", "NaT"], ["2026-07-01"] * 2)
    assert found.tolist() == [150, 181]
    curve = survival(found, [True, False])
    assert (curve.median, curve.at(100), curve.at(150)) == (150, 1.0, 0.5)
    assert restricted_mean(curve, 160) == 155


def test_half_is_never_reached_where_most_are_still_waiting() -> None:
    found = survival([3, 9, 9], [True, False, False])
    assert found.median is None
    assert (found.n, found.happened) == (3, 1)


def test_tanks_are_dealt_anew_not_their_animals() -> None:
    # One bad tank of thirty: as animals it is certain, as one tank of three it says little.
    time = [1] * 30 + [9] * 150
    tank = np.repeat(["a", "b", "c", "d", "e", "f"], 30).tolist()
    arm = ["x"] * 90 + ["y"] * 90
    assert log_rank(time, [True] * 180, arm).p < 1e-6
    found = tank_log_rank(time, [True] * 180, tank, arm, treatment="x")
    assert (found.arrangements, found.p) == (20, 1.0)
    block = np.repeat(["p", "q", "r", "p", "q", "r"], 30).tolist()
    assert (
        tank_log_rank(time, [True] * 180, tank, arm, treatment="x", block=block).arrangements == 8
    )


def test_tanks_that_differ_more_than_counts_do_widen_the_response() -> None:
    dose, of = [1, 1, 2, 2, 4, 4, 8, 8], [20] * 8
    seen = [0, 8, 2, 12, 8, 17, 12, 20]
    wide, narrow = (dose_response(dose, seen, of, spread=one) for one in (True, False))
    assert wide.inflation > 3
    assert wide.half.value == narrow.half.value
    assert wide.half.high - wide.half.low > 2 * (narrow.half.high - narrow.half.low)


def test_a_flat_response_has_a_dose_for_half_without_ends() -> None:
    found = dose_response([10, 20, 30], [9, 10, 10], [20, 20, 20], logged=False)
    assert (found.half.low, found.half.high) == (-np.inf, np.inf)
    logged = dose_response([10, 20, 30], [9, 10, 10], [20, 20, 20])
    assert (logged.half.low, logged.half.high) == (0.0, np.inf)


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda: growth_rate(0, 5, 7), "mass must be above 0"),
        (lambda: growth_rate(1, 5, 0), "number of days must be above 0"),
        (lambda: condition([5], [np.nan]), "length must be above 0"),
        (lambda: length_weight([1, 1, 1], [1, 2, 3]), "different lengths"),
        (lambda: feed_conversion(5, -1), "gain of mass must be above 0"),
        (lambda: feed_conversion(-5, 1), "feed must be above 0"),
        (lambda: hatching_success([4], [5], [0]), "hold together"),
        (lambda: exact_share(5, 4), "from 0 to 4"),
        (lambda: beta_binomial([1, 2], [4, 4]), "Three or more"),
        (lambda: beta_binomial([4, 4, 4], [4, 4, 4]), "do not vary"),
        (lambda: spread_of_shares([0, 0], [4, 4]), "do not vary"),
        (lambda: survival([], []), "needs a time"),
        (lambda: survival([-1], [True]), "0 or above"),
        (lambda: log_rank([1, 2], [False, False], ["a", "b"]), "nothing happened"),
        (lambda: hatching_days(["2026-02-01"], ["2026-01-01"], ["2026-03-01"]), "before it was"),
        (lambda: degree_days([9], [5], 4), "lowest is above"),
        (lambda: thermal_sum([9, np.nan]), "1 of 2 days"),
        (lambda: q10(1, 20, 2, 20), "They are the same"),
        (lambda: fitted_q10([1, 2], [10, 20]), "two more than"),
        (lambda: fitted_q10([1, 2, 3], [10, 10, 10]), "are the same"),
        (lambda: dose_response([0, 1], [1, 2], [4, 4]), "not above 0"),
        (lambda: dose_response([1, 2, 3, 4], [0, 0, 9, 9], [9] * 4), "None responded below"),
        (lambda: logit_fit([[1.0]], [5], [4]), "above its total"),
        (lambda: fit_curve(Curve.LOGISTIC, [1, 2, 3], [1, 2, 3]), "more points"),
    ],
)
def test_what_cannot_be_computed_is_refused_in_sentences(act, why: str) -> None:
    with pytest.raises(Unsound, match=why):
        act()


def test_points_that_do_not_bend_have_no_limit() -> None:
    with pytest.raises(Unsound, match="do not bend"):
        fit_curve(Curve.VON_BERTALANFFY, range(6), [5.0] * 6)
