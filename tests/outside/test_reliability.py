"""Reliability against published values; the source stands beside each check.

“From memory” is a value recalled, confirmed by the sum agreeing alone.
"""

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa
from statsmodels.stats.inter_rater import fleiss_kappa as their_fleiss

from archive.analysis import (
    Scale,
    fleiss_kappa,
    intraclass,
    kappa_error,
    kappa_of,
    krippendorff_alpha,
    stepped,
)

pytestmark = pytest.mark.outside

COHEN = [[88, 10, 2], [14, 40, 6], [18, 10, 12]]
WORSE = [[0, 1, 3], [1, 0, 6], [3, 6, 0]]


def test_kappa_and_weighted_kappa_against_the_paper() -> None:
    # Cohen (1968), Psychological Bulletin 70, 213–220: .492, and .348 with these weights.
    assert kappa_of(COHEN) == pytest.approx(0.492, abs=0.0005)
    assert kappa_of(COHEN, WORSE) == pytest.approx(0.348, abs=0.0005)


def test_the_error_of_kappa_against_the_paper_and_a_library() -> None:
    # Fleiss, Cohen and Everitt (1969): .429, standard error .054 (from memory).
    table = [[106, 10, 4], [22, 28, 10], [2, 12, 6]]
    assert kappa_of(table) == pytest.approx(0.429, abs=0.0005)
    assert kappa_error(table) == pytest.approx(0.054, abs=0.0005)
    # Independent: statsmodels, plain and with weights.
    for weights in (None, stepped(3), stepped(3, squared=True), np.array(WORSE, float)):
        theirs = cohens_kappa(np.array(table), weights=weights)
        assert kappa_of(table, weights) == pytest.approx(theirs.kappa)
        assert kappa_error(table, weights) == pytest.approx(theirs.std_kappa)


def test_the_paradox_of_kappa() -> None:
    # Feinstein and Cicchetti (1990), from memory: as much agreement, .70 and .32.
    assert kappa_of([[40, 9], [6, 45]]) == pytest.approx(0.70, abs=0.005)
    assert kappa_of([[80, 10], [5, 5]]) == pytest.approx(0.32, abs=0.005)


# Fleiss (1971): thirty patients, six psychiatrists, five diagnoses (data from memory; .430 agrees).
PATIENTS = """0 0 0 6 0/0 3 0 0 3/0 1 4 0 1/0 0 0 0 6/0 3 0 3 0/2 0 4 0 0/0 0 4 0 2/2 0 3 1 0
2 0 0 4 0/0 0 0 0 6/1 0 0 5 0/1 1 0 4 0/0 3 3 0 0/1 0 0 5 0/0 2 0 3 1/0 0 5 0 1/3 0 0 1 2/5 1 0 0 0
0 2 0 4 0/1 0 2 0 3/0 0 0 0 6/0 1 0 5 0/0 2 0 1 3/2 0 0 4 0/1 0 0 4 1/0 5 0 1 0
4 0 0 0 2/0 2 0 4 0/1 0 5 0 0
0 0 0 0 6"""
# Fleiss' kappa in Wikipedia, the worked example: ten subjects, fourteen raters, .210.
TEN = """0 0 0 0 14/0 2 6 4 2/0 0 3 5 6/0 3 9 2 0/2 2 8 1 1/7 7 0 0 0/3 2 6 3 0/2 5 3 2 2/6 5 2 1 0
0 2 2 3 7"""


def table_of(text: str) -> np.ndarray:
    return np.array([row.split() for row in text.replace("\n", "/").split("/")], dtype=int)


def test_fleiss_kappa_against_the_worked_example() -> None:
    found = fleiss_kappa(table_of(TEN))
    assert found.value == pytest.approx(0.210, abs=0.0005)
    assert found.low < 0.210 < found.high


def test_fleiss_kappa_against_the_paper() -> None:
    # Fleiss (1971), Psychological Bulletin 76, 378–382: .430.
    table = table_of(PATIENTS)
    assert table.sum() == 180
    assert fleiss_kappa(table).value == pytest.approx(their_fleiss(table))
    assert fleiss_kappa(table).value == pytest.approx(0.430, abs=0.0005)


GAP = np.nan
TWELVE = [
    [1, 2, 3, 3, 2, 1, 4, 1, 2, GAP, GAP, GAP],
    [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, GAP, 3],
    [GAP, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, GAP],
    [1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, GAP],
]
FIFTEEN = [
    [GAP, GAP, GAP, GAP, GAP, 3, 4, 1, 2, 1, 1, 3, 3, GAP, 3],
    [1, GAP, 2, 1, 3, 3, 4, 3, GAP, GAP, GAP, GAP, GAP, GAP, GAP],
    [GAP, GAP, 2, 1, 3, 4, 4, GAP, 2, 1, 1, 3, 3, GAP, 4],
]


@pytest.mark.parametrize(
    ("values", "scale", "alpha"),
    [
        # Krippendorff (2011), Computing Krippendorff's alpha-reliability, sections C to F.
        (TWELVE, Scale.NOMINAL, 0.743),
        (TWELVE, Scale.ORDINAL, 0.815),
        (TWELVE, Scale.INTERVAL, 0.849),
        (TWELVE, Scale.RATIO, 0.797),
        # Krippendorff's alpha in Wikipedia, the worked example.
        (FIFTEEN, Scale.NOMINAL, 0.691),
        (FIFTEEN, Scale.INTERVAL, 0.811),
    ],
)
def test_alpha_against_worked_examples(values: list, scale: Scale, alpha: float) -> None:
    found = krippendorff_alpha(values, scale)
    assert found.value == pytest.approx(alpha, abs=0.0006)
    assert found.low < alpha < found.high


def test_the_six_forms_of_intraclass_correlation_against_the_paper() -> None:
    # Shrout and Fleiss (1979), tables 2 and 4; intervals as a public package prints them for the
    # same data (from memory).
    found = intraclass(
        [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
    )
    forms = [found.one_way, found.random, found.fixed]
    forms += [found.one_way_mean, found.random_mean, found.fixed_mean]
    assert [one.value for one in forms] == pytest.approx(
        [0.166, 0.290, 0.715, 0.443, 0.620, 0.909], abs=0.0006
    )
    assert [one.low for one in forms] == pytest.approx(
        [-0.133, 0.019, 0.342, -0.884, 0.071, 0.676], abs=0.0006
    )
    assert [one.high for one in forms] == pytest.approx(
        [0.72, 0.76, 0.95, 0.91, 0.93, 0.99], abs=0.006
    )


def test_the_interval_of_kappa_covers_as_often_as_it_says() -> None:
    # Property: two observers with a known kappa, 120 independent moments.
    draws = np.random.default_rng(8)
    truth, runs = 0.6, 400
    p = 0.4
    alike = p * (1 - p) * truth
    joint = np.array(
        [p * p + alike, p * (1 - p) - alike, p * (1 - p) - alike, (1 - p) ** 2 + alike]
    )
    hits = 0
    for table in draws.multinomial(120, joint, runs).reshape(runs, 2, 2):
        value, error = float(kappa_of(table)), kappa_error(table)
        hits += abs(value - truth) <= 1.96 * error
    assert hits / runs == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / runs) ** 0.5)
