"""Cohorts together: what may be pooled, and what is said of few."""

import numpy as np
import pytest

from archive.analysis import Cohort, Method, by_stratum, difference, log_ratio, pool, standardised
from registry.errors import Unsound

FIRST = difference("2024", [5.0, 6, 7, 8], [3, 4, 4, 5], "mass in g")
SECOND = difference("2025", [6.0, 7, 7, 9], [5, 5, 7, 6], "mass in g")


def said(gaps: tuple) -> str:
    return " ".join(one.said for one in gaps)


@pytest.mark.parametrize("method", list(Method))
def test_cohorts_that_agree_have_no_variance_between_them(method: Method) -> None:
    found = pool([Cohort(str(n), 1.0, 0.2, "g", 8) for n in range(6)], method=method)
    assert (found.between, found.inconsistency, found.q) == (0.0, 0.0, 0.0)
    assert "agree better than chance" in said(found.gaps)
    assert found.effect.value == pytest.approx(1)


def test_cohorts_that_all_found_nothing_say_so() -> None:
    assert pool([Cohort(str(n), 0.0, 0.2, "g", 8) for n in range(6)]).p == 1.0


def test_two_cohorts_are_pooled_with_a_caution() -> None:
    found = pool([FIRST, SECOND], hartung_knapp=False)
    assert SECOND.effect < found.effect.value < FIRST.effect
    assert (found.next_low, found.next_high) == (None, None)
    assert "There are 2" in said(found.gaps)
    assert [one.name for one in found.rows] == ["2024", "2025"]
    assert found.rows[0].low < FIRST.effect < found.rows[0].high


def test_one_more_cohort_is_foretold_more_widely_than_the_mean() -> None:
    found = pool([FIRST, SECOND, Cohort("2026", -1.0, 0.4, "mass in g", 8)], hartung_knapp=False)
    assert found.next_low < found.effect.low
    assert found.effect.high < found.next_high


def test_a_cohort_without_a_difference_still_has_a_variance() -> None:
    found = difference("2026", [1.0, 3.0], [2.0, 2.0], "g")
    assert (found.effect, found.variance) == (0.0, 1.0)


def test_a_ratio_with_a_zero_is_lent_half_a_count() -> None:
    found = log_ratio("2026", 0, 10, 5, 10)
    assert found.effect == pytest.approx(np.log(0.5 / 11) - np.log(5.5 / 11))


def test_cohorts_as_strata_are_dealt_within_themselves() -> None:
    values, treated = [5, 6, 1, 2, 9, 9, 5, 6, 7, 3], [1, 1, 0, 0, 1, 1, 0, 0, 1, 0]
    found = by_stratum(values, treated, ["a"] * 4 + ["b"] * 4 + ["c"] * 2)
    assert found.arrangements == 72
    assert found.effect == pytest.approx((4 + 3.5 + 4) / 3)


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda: pool([FIRST]), "1 were given"),
        (lambda: pool([FIRST, standardised("x", [1.0, 2], [3, 5])]), "in standard deviations"),
        (lambda: Cohort("x", 1.0, 0.0, "g", 4), "variance is 0"),
        (lambda: log_ratio("x", 5, 4, 1, 4), "from 0 to 4"),
        (lambda: difference("x", [1.0], [2.0, 3.0], "g"), "no replication"),
    ],
)
def test_what_cannot_be_pooled_is_refused_in_sentences(act, why: str) -> None:
    with pytest.raises(Unsound, match=why):
        act()
