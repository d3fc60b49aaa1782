"""What is proposed, what goes with a covariate, and results that can be told again."""

from math import inf, nan

import numpy as np
import pytest
from scipy import stats

from archive import analysis
from archive.analysis import (
    Arms,
    Outcome,
    Scans,
    Standing,
    along,
    as_randomised,
    canonical,
    coded,
    digest,
    plain,
    propose,
    randomisation,
    standing,
    time_budget,
)
from registry.design import Stream, blocked, complete
from registry.errors import Unsound

FREE = "complete randomisation"
PAIR = {"x": 4, "y": 4}
THREE = {"x": 3, "y": 3, "z": 3}


@pytest.mark.parametrize(
    ("asked", "test"),
    [
        ({"outcome": Outcome.NUMBER, "units": PAIR}, "unit_t"),
        ({"outcome": Outcome.NUMBER, "units": THREE}, "unit_f"),
        ({"outcome": Outcome.SHARE, "units": PAIR}, "logit_t"),
        ({"outcome": Outcome.SCORE, "units": PAIR}, "rank_sum"),
        ({"outcome": Outcome.SCORE, "units": THREE}, "kruskal_wallis"),
        ({"outcome": Outcome.TIME, "units": PAIR}, "tank_log_rank"),
        ({"outcome": Outcome.NUMBER, "units": PAIR, "within": True}, "paired_t"),
        ({"outcome": Outcome.SCORE, "units": PAIR, "within": True}, "signed_ranks"),
        ({"outcome": Outcome.NUMBER, "units": THREE, "within": True}, "friedman"),
        ({"outcome": Outcome.SCORE, "units": THREE, "within": True, "foretold": True}, "page"),
    ],
)
def test_a_test_that_fits_is_proposed(asked: dict, test: str) -> None:
    found = propose(method=FREE, **asked)
    assert found.test == test
    assert all(callable(getattr(analysis, name)) for name in (found.test, *found.beside))
    assert found.why
    assert found.assumes


def test_a_draw_of_more_arrangements_than_can_be_gone_through_gets_its_test() -> None:
    # 13 tanks in each arm are more than ten million arrangements, 700 more than a float holds.
    for many in (13, 700):
        found = propose(Outcome.NUMBER, {"x": many, "y": many}, method=FREE)
        assert found.test == "unit_t"
        assert "as_randomised" in found.beside
        assert found.reach is not None
        assert found.reach.smallest_p < 1e-6


def test_the_smallest_p_that_is_told_is_the_one_that_is_reached() -> None:
    for units, method in ((["a", "b", "c", "d", "e", "f"], FREE), (list("abcdefg"), FREE)):
        drawn = complete(units, ["x", "y"], Stream(bytes(32)))
        said = propose(Outcome.NUMBER, drawn.counts, method=method).reach
        outcomes = {one.unit: place / 10 + 9 * (one.arm == "x")
                    for place, one in enumerate(drawn.places)}  # fmt: skip
        found, _ = as_randomised(drawn, outcomes, treatment="x")
        assert said.assignments == found.arrangements
        assert found.p == pytest.approx(said.smallest_p)
    drawn = blocked({"p": "ab", "q": "cdef"}, ["x", "y"], Stream(bytes(32)))
    said = propose(Outcome.NUMBER, drawn.counts, method=drawn.method, blocks=[[1, 1], [2, 2]]).reach
    assert (said.assignments, said.smallest_p) == (12, 2 / 12)
    three = propose(Outcome.NUMBER, THREE, method=FREE).reach
    assert three.smallest_p == pytest.approx(6 / 1680)


def test_what_the_draw_cannot_show_is_said() -> None:
    few = propose(Outcome.NUMBER, {"x": 3, "y": 3}, method=FREE)
    assert not few.reach.is_confirmatory
    assert "no outcome can be significant" in few.why[-1]
    assert "as_randomised" not in few.beside
    assert "as_randomised" in propose(Outcome.NUMBER, PAIR, method=FREE).beside
    assert propose(Outcome.NUMBER, PAIR, method="minimisation").reach is None
    assert propose(Outcome.NUMBER, PAIR, method="randomised blocks").reach is None
    assert propose(Outcome.NUMBER, PAIR, method=FREE, within=True).reach.assignments == 16
    # Eight units, four in each of two orders: 70 ways, the best with a mirror image.
    crossed = propose(Outcome.NUMBER, {"x": 8, "y": 8}, method="crossover", within=True,
                      orders=[4, 4])  # fmt: skip
    assert (crossed.reach.assignments, crossed.reach.smallest_p) == (70, 2 / 70)
    assert crossed.beside == ("orders_as_randomised", "signed_ranks")
    assert "Nothing was drawn" in propose(Outcome.NUMBER, PAIR).assumes[-1]
    for units in ({"x": 4}, {"x": 4, "y": 1}):
        with pytest.raises(Unsound, match="No test can be proposed"):
            propose(Outcome.NUMBER, units)


def test_planned_is_kept_apart_from_exploratory() -> None:
    assert standing(["unit_t"], "unit_t") == Standing.PLANNED
    assert standing([], "unit_t") == Standing.EXPLORATORY


def test_a_covariate_is_followed_within_animals() -> None:
    # Between animals more visitors go with more swimming; within each with less.
    visitors = [1, 2, 3, 11, 12, 13, 21, 22, 24, 5, 5, 5]
    swims = [3, 2, 1, 13, 12, 10, 23, 21, 19, 1, 2, np.nan]
    animal = ["a"] * 3 + ["b"] * 3 + ["c"] * 3 + ["d"] * 3
    found = along(swims, visitors, animal)
    slopes = [stats.linregress(visitors[at : at + 3], swims[at : at + 3]).slope for at in (0, 3, 6)]
    assert [one for _, one in found.by_animal] == pytest.approx(slopes)
    assert found.slope.mean < 0
    assert found.p == pytest.approx(stats.ttest_1samp(slopes, 0).pvalue)
    assert "No slope of d" in " ".join(one.said for one in found.gaps)
    assert along([1, 2, 3], [1, 2, 3], ["a"] * 3).p is None
    with pytest.raises(Unsound, match="not of one length"):
        along([1], [1, 2], ["a"])


def test_a_result_is_told_in_plain_values_and_again_the_same() -> None:
    rows = (coded(["a", "a", "b", "b"]), coded(list("stst")), coded(["swim", "oos"] * 2))
    found = time_budget(Scans(*rows))
    assert digest(found) == digest(time_budget(Scans(*rows)))
    assert digest(found) != digest(time_budget(Scans(*rows), least_visible=0.6))
    assert plain(found)["gives"] == "share of sample points"
    told = canonical(randomisation(Arms([1, 1, 0, 0]), [1, 2, 3, 5]))
    assert '"low":"-inf"' in told
    assert plain({"a": np.float64(1 / 3), "b": (nan, -inf, np.arange(2))}) == {
        "a": 0.3333333333,
        "b": [None, "-inf", [0, 1]],
    }
    with pytest.raises(TypeError, match="no plain form"):
        plain(object())
