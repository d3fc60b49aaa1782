"""Reliability: intervals, coverage, the gate, and what cannot be judged."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from archive.analysis import (
    Gate,
    Scale,
    Sitting,
    agreement,
    band,
    coded,
    fleiss_kappa,
    intraclass,
    kappa_of,
    krippendorff_alpha,
    stands,
    stepped,
)
from registry.errors import Unsound

FIRST = ["swim", "swim", "rest", "rest", "swim", "rest", "feed", "swim"]
FIRST += ["rest", "rest", "swim", "swim"]
SECOND = ["swim", "swim", "rest", "rest", "swim", "rest", "swim", "swim"]
SECOND += ["rest", "swim", "swim", "swim"]
ETHOGRAM = ["swim", "rest", "feed", "hide"]


def said(gaps: tuple) -> str:
    return " ".join(one.said for one in gaps)


def test_coverage_stands_beside_agreement() -> None:
    found = agreement(coded(FIRST), coded(SECOND), ETHOGRAM)
    assert (found.n, found.same.value) == (12, pytest.approx(10 / 12))
    assert found.covered.share == 0.75
    assert found.covered.never == ("hide",)
    assert found.covered.few == ("swim", "rest", "feed")
    assert "erratic" in said(found.gaps)


def test_sessions_make_the_interval_wider_where_moments_are_alike() -> None:
    # The same twelve moments six times over in each of four sessions that differ.
    draws = np.random.default_rng(1)
    first = np.repeat(draws.integers(0, 2, (4, 5)), 12)
    flips = np.repeat(draws.random((4, 5)) < 0.3, 12)
    one, other = coded(first.tolist()), coded(np.where(flips, 1 - first, first).tolist())
    session = coded(np.repeat(range(4), 60).tolist())
    plain = agreement(one, other, ["0", "1"]).kappa
    by_session = agreement(one, other, ["0", "1"], session=session).kappa
    assert plain.value == by_session.value
    assert by_session.high - by_session.low > 1.5 * (plain.high - plain.low)
    assert "leaving out each of 4 sessions" in by_session.how


def test_one_session_has_no_interval_over_sessions() -> None:
    found = agreement(coded(FIRST), coded(SECOND), ETHOGRAM, session=coded(["s"] * 12))
    assert found.kappa.low is None


def test_what_one_observer_left_out_is_said() -> None:
    found = agreement(coded([*FIRST, None, "nap"]), coded([*SECOND, "swim", "rest"]), ETHOGRAM)
    assert found.n == 12
    assert "2 moments are left out" in said(found.gaps)
    assert "no nap" in said(found.gaps)


def test_one_code_alone_leaves_kappa_out_and_the_rest_in() -> None:
    found = agreement(coded(["rest"] * 12), coded(["rest"] * 12), ETHOGRAM, disagreement=stepped(4))
    assert (found.kappa, found.weighted, found.same.value) == (None, None, 1.0)
    assert "Kappa cannot be computed" in said(found.gaps)


def test_weights_count_near_confusions_less() -> None:
    table = [[10, 4, 0], [3, 10, 4], [0, 3, 10]]
    plain, linear, squared = (
        float(kappa_of(table, one)) for one in (None, stepped(3), stepped(3, squared=True))
    )
    assert plain < linear < squared


@pytest.mark.parametrize(
    ("act", "why"),
    [
        (lambda: agreement(coded([None]), coded(["swim"]), ETHOGRAM), "no moment that both"),
        (lambda: kappa_of([[1, 2], [3, 4]], [[1, 1], [1, 0]]), "do not fit"),
        (lambda: fleiss_kappa([[3, 0], [1, 1]]), "Krippendorff"),
        (lambda: fleiss_kappa([[3, 0], [3, 0]]), "One code alone"),
        (lambda: krippendorff_alpha([[1, np.nan], [np.nan, 2]]), "No unit was judged by two"),
        (lambda: krippendorff_alpha([[1, 1], [1, 1]]), "All values are the same"),
        (lambda: krippendorff_alpha([[-1, 1], [1, 1]], Scale.RATIO), "no value below 0"),
        (lambda: intraclass([[1, 2]]), "two targets"),
        (lambda: intraclass([[1, np.nan], [1, 2]]), "no gaps"),
        (lambda: intraclass([[1, 1], [1, 1]]), "Nothing varies"),
        (lambda: Gate(least_kappa=2), "from 0 to 1"),
    ],
)
def test_what_cannot_be_judged_is_refused(act, why: str) -> None:
    with pytest.raises(Unsound, match=why):
        act()


def test_observers_who_differ_by_a_constant_agree_in_order_alone() -> None:
    found = intraclass([[1, 3], [4, 6], [9, 11]])
    assert found.fixed.value == 1.0
    assert 0 < found.random.value < 1
    assert found.random.low is None


@pytest.mark.parametrize(
    ("kappa", "word"),
    # Landis and Koch (1977), bands from memory.
    [(-0.1, "poor"), (0.2, "slight"), (0.4, "fair"), (0.6, "moderate"), (0.81, "almost perfect")],
)
def test_a_kappa_has_a_word(kappa: float, word: str) -> None:
    assert band(kappa) == word


GOOD = agreement(coded(FIRST * 2), coded(FIRST * 2), ETHOGRAM)
POOR = agreement(coded(FIRST * 2), coded(SECOND * 2), ETHOGRAM)


def sat(on: str, found=GOOD, observer: str = "K1", ethogram: str = "rays 2") -> Sitting:
    return Sitting(observer, ethogram, date.fromisoformat(on), found)


@pytest.mark.parametrize(
    ("gate", "sittings", "reasons"),
    [
        (Gate(), [sat("2026-03-01")], []),
        (Gate(), [sat("2026-03-01", POOR), sat("2026-03-05")], []),
        (Gate(), [sat("2026-03-01"), sat("2026-03-05", POOR)], ["83 per cent", "kappa is 0.68"]),
        (Gate(), [sat("2026-03-11")], ["has sat no test"]),
        (Gate(), [sat("2026-03-01", ethogram="rays 1")], ["has sat no test"]),
        (Gate(), [sat("2026-03-01", observer="K2")], ["has sat no test"]),
        (Gate(least_covered=0.9), [sat("2026-03-01")], ["3 of 4 behaviours"]),
        (Gate(days=5), [sat("2026-03-01")], ["ended on 2026-03-06"]),
        (Gate(days=9), [sat("2026-03-01")], []),
        (Gate(by_lower_bound=True, least_same=0.8, least_kappa=0.6), [sat("2026-03-01", POOR)],
         ["lower bound of kappa is 0.4"]),
        (Gate(), [sat("2026-03-01", replace(GOOD, kappa=None))], ["one behaviour alone"]),
    ],
)  # fmt: skip
def test_the_gate_asks_for_the_newest_test_of_that_version(
    gate: Gate, sittings: list, reasons: list
) -> None:
    found = stands(gate, sittings, observer="K1", ethogram="rays 2", on=date(2026, 3, 10))
    assert found.is_passed is not bool(reasons)
    assert len(found.reasons) == len(reasons)
    for sentence, part in zip(found.reasons, reasons, strict=True):
        assert part in sentence
