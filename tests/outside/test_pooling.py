"""Pooling of cohorts against published values and a reference; the source beside each check."""

import math

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from archive.analysis import Cohort, Method, log_ratio, pool

pytestmark = pytest.mark.outside

# Colditz et al. (1994), thirteen trials of a vaccine: counts as they are printed in many textbooks
# (data from memory; every value below agrees).
TRIALS = [
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619),
    (33, 5036, 47, 5761), (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892),
    (29, 7470, 45, 7232), (17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338),
    (27, 16886, 29, 17825),
]  # fmt: skip
COHORTS = [
    log_ratio(str(place), a, a + b, c, c + d) for place, (a, b, c, d) in enumerate(TRIALS, 1)
]


@pytest.mark.parametrize(
    ("method", "effect", "error", "between"),
    # Documentation of the R package that ships the data; Paule and Mandel from memory.
    [
        (Method.DERSIMONIAN_LAIRD, -0.7141, 0.1787, 0.3088),
        (Method.REML, -0.7145, 0.1798, 0.3132),
        (Method.PAULE_MANDEL, -0.7150, 0.1809, 0.3181),
    ],
)
def test_thirteen_trials(method: Method, effect: float, error: float, between: float) -> None:
    found = pool(COHORTS, method=method, hartung_knapp=False)
    assert found.effect.value == pytest.approx(effect, abs=5e-5)
    assert found.error == pytest.approx(error, abs=6e-5)
    assert found.between == pytest.approx(between, abs=6e-5)
    assert found.q == pytest.approx(152.233, abs=5e-4)
    assert found.q_df == 12


def test_what_else_is_published_of_thirteen_trials() -> None:
    # The same documentation, from memory: I² 92.22 per cent; Hartung and Knapp's t −3.9522,
    # interval −1.1084 to −.3206, p .0019; weights 5.06 per cent of the first trial.
    found = pool(COHORTS)
    assert found.inconsistency == pytest.approx(0.9222, abs=5e-5)
    assert found.effect.value / found.error == pytest.approx(-3.9522, abs=5e-5)
    assert (found.effect.low, found.effect.high) == pytest.approx((-1.1084, -0.3206), abs=1e-4)
    assert found.p == pytest.approx(0.0019, abs=5e-5)
    assert found.rows[0].weight == pytest.approx(0.0506, abs=5e-5)
    assert sum(one.weight for one in found.rows) == pytest.approx(1)


@pytest.mark.parametrize(
    ("method", "theirs"), [(Method.DERSIMONIAN_LAIRD, "dl"), (Method.PAULE_MANDEL, "iterated")]
)
def test_pooling_against_a_reference_library(method: Method, theirs: str) -> None:
    # Independent: statsmodels, with the interval of Hartung, Knapp, Sidik and Jonkman.
    y, v = (np.array([getattr(one, name) for one in COHORTS]) for name in ("effect", "variance"))
    reference = combine_effects(y, v, method_re=theirs, use_t=True)
    found = pool(COHORTS, method=method)
    assert found.between == pytest.approx(reference.tau2, abs=1e-7)
    assert found.effect.value == pytest.approx(reference.mean_effect_re, abs=1e-7)
    assert found.error == pytest.approx(reference.sd_eff_w_re_hksj, abs=1e-7)
    low, high = reference.conf_int()[3]
    assert (found.effect.low, found.effect.high) == pytest.approx((low, high), abs=1e-6)


def test_reml_is_where_the_restricted_likelihood_is_greatest() -> None:
    # Independent: the likelihood itself (Viechtbauer 2005), looked at on either side.
    y, v = (np.array([getattr(one, name) for one in COHORTS]) for name in ("effect", "variance"))

    def likelihood(between: float) -> float:
        w = 1 / (v + between)
        mean = w @ y / w.sum()
        return -0.5 * float(-np.log(w).sum() + np.log(w.sum()) + w @ (y - mean) ** 2)

    best = pool(COHORTS).between
    assert likelihood(best) > likelihood(best * 1.001)
    assert likelihood(best) > likelihood(best * 0.999)


def test_which_interval_covers_where_cohorts_are_few() -> None:
    # Hartung and Knapp (2001): by t it covers as often as it says, the normal one too seldom.
    draws, runs, hits = np.random.default_rng(15), 400, np.zeros(2)
    for _ in range(runs):
        v = draws.uniform(0.05, 0.3, 5)
        y = draws.normal(1, np.sqrt(v + 0.2))
        years = [Cohort(str(n), *one, "g", 8) for n, one in enumerate(zip(y, v, strict=True))]
        for place, by_t in enumerate((True, False)):
            effect = pool(years, hartung_knapp=by_t).effect
            hits[place] += effect.low <= 1 <= effect.high
    error = math.sqrt(0.95 * 0.05 / runs)
    assert hits[0] / runs == pytest.approx(0.95, abs=4 * error)
    assert hits[1] / runs < 0.95 - 2 * error
