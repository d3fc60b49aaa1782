"""Simulation and estimates against tables of others and open data; the source beside each check."""

import math

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from registry.design import Analysis, Outcome, Study, TankMeans, estimate, simulate

pytestmark = pytest.mark.outside

# Tables of the project's notes: 400 runs for each cell, made apart with scipy and statsmodels.
RUNS = 400


def within(said: float, found) -> bool:
    """Say whether two simulated shares differ by no more than chance makes them, 4 errors."""
    error = math.hypot(math.sqrt(max(said * (1 - said), 0.01) / RUNS), found.error)
    return abs(said - found.share) <= 4 * error


@pytest.mark.parametrize(
    ("analysis", "three", "four", "power"),
    [
        (Analysis.ANIMAL_T, 0.278, 0.245, 0.93),
        (Analysis.UNIT_T, 0.043, 0.043, 0.62),
        (Analysis.UNIT_PERMUTATION, 0.0, 0.025, 0.45),
    ],
)
def test_ten_fish_in_a_tank(analysis: Analysis, three: float, four: float, power: float) -> None:
    small = simulate(Study(means=[0, 1], units=3, per_unit=10, icc=0.2), analysis, runs=4000)
    found = simulate(Study(means=[0, 1], units=4, per_unit=10, icc=0.2), analysis, runs=4000)
    assert within(three, small.type_one)
    assert within(four, found.type_one)
    assert within(power, found.power)


def test_the_simulated_power_of_tank_means_is_the_exact_one() -> None:
    found = simulate(
        Study(means=[0, 1], units=4, per_unit=10, icc=0.2), Analysis.UNIT_T, runs=20_000
    )
    exact = TankMeans(sd=1, icc=0.2, per_unit=10).power(4, 1)
    assert exact == pytest.approx(0.609, abs=0.0005)
    assert found.power.share == pytest.approx(exact, abs=4 * found.power.error)
    assert found.type_one.share == pytest.approx(0.05, abs=4 * found.type_one.error)


@pytest.mark.parametrize(
    ("analysis", "four", "three", "eight"),
    [
        (Analysis.ANIMAL_Z, 0.273, 0.203, 0.230),
        (Analysis.QUASI_T, 0.035, 0.020, 0.055),
        (Analysis.UNIT_T, 0.058, 0.043, 0.062),
        (Analysis.LOGIT_T, 0.052, 0.043, 0.055),
        (Analysis.UNIT_PERMUTATION, 0.018, 0.0, 0.043),
    ],
)
def test_eggs_in_tanks(analysis: Analysis, four: float, three: float, eight: float) -> None:
    for units, said in ((4, four), (3, three), (8, eight)):
        study = Study(
            means=[0.5, 0.5], units=units, per_unit=25, outcome=Outcome.SHARE, sd_units=0.6
        )
        assert within(said, simulate(study, analysis, runs=3000).type_one)


DYESTUFF = {
    # Yield of dyestuff, Davies and Goldsmith (1972), as the book on lme4 prints it (from memory;
    # the variances agree).
    "A": (1545, 1440, 1440, 1520, 1580),
    "B": (1540, 1555, 1490, 1560, 1495),
    "C": (1595, 1550, 1605, 1510, 1560),
    "D": (1445, 1440, 1595, 1465, 1545),
    "E": (1595, 1630, 1515, 1635, 1625),
    "F": (1520, 1455, 1450, 1480, 1445),
}


def test_variances_against_a_worked_example() -> None:
    # Bates, lme4, chapter 1: 1764.05 between batches and 2451.25 within, by REML.
    values = [float(one) for batch in DYESTUFF.values() for one in batch]
    units = [name for name in DYESTUFF for _ in range(5)]
    found = estimate(values, units, source="Dyestuff")
    assert found.sd_units**2 == pytest.approx(1764.05, abs=0.01)
    assert found.sd_within**2 == pytest.approx(2451.25, abs=0.01)
    assert found.icc == pytest.approx(0.418, abs=0.0005)
    assert found.icc_low < 0.15
    assert found.icc_high > 0.8


def test_variances_of_uneven_tanks_agree_with_a_reference_fit() -> None:
    # Independent: REML of statsmodels on uneven tanks; moments and likelihood differ a little.
    draws = np.random.default_rng(12)
    sizes = draws.integers(3, 15, 60)
    units = np.repeat(np.arange(60), sizes)
    y = draws.normal(0, 2, 60)[units] + draws.normal(0, 3, len(units)) + 20
    fitted = MixedLM(y, np.ones((len(y), 1)), groups=units).fit(reml=True)
    found = estimate(y.tolist(), units.tolist())
    assert found.sd_within**2 == pytest.approx(fitted.scale, rel=0.02)
    assert found.sd_units**2 == pytest.approx(float(fitted.cov_re[0, 0]), rel=0.15)


def test_the_interval_of_an_icc_covers_as_often_as_it_says() -> None:
    draws = np.random.default_rng(13)
    units, runs, hits = np.repeat(np.arange(8), 10).tolist(), 400, 0
    for _ in range(runs):
        y = draws.normal(0, math.sqrt(0.2), 8)[units] + draws.normal(0, math.sqrt(0.8), 80)
        found = estimate(y.tolist(), units)
        hits += found.icc_low <= 0.2 <= found.icc_high
    assert hits / runs == pytest.approx(0.95, abs=0.04)
