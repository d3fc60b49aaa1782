"""Summaries of behaviour against published values; the source stands beside each check.

“From memory” is a value recalled, confirmed by the sum agreeing alone.
"""

import numpy as np
import pytest
from scipy import special
from statsmodels.genmod.families import Poisson
from statsmodels.genmod.generalized_linear_model import GLM

from archive.analysis import (
    Level,
    Scans,
    diversity,
    electivity,
    mean_level,
    spread,
    spread_unequal,
    time_budget,
    transitions,
)
from archive.analysis.behaviour import budgets
from archive.analysis.behaviour.budgets import Amounts, budget_of
from archive.analysis.columns import Coded
from registry.animals.hatching import wilson
from registry.design import Summary

pytestmark = pytest.mark.outside


def test_visible_time_is_what_shares_are_of() -> None:
    # 60 scans, 12 out of sight, 24 swim, 24 rest: 50 and 50 per cent, visible 80 per cent. The rule
    # from Martin and Bateson, Measuring Behaviour, “time out”; the numbers by hand.
    behaviour = np.repeat([0, 1, 2], [12, 24, 24]).astype(np.int32)
    none = np.zeros(60, dtype=np.int32)
    found = time_budget(
        Scans(
            Coded(none, ("Moss",)),
            Coded(none, ("s",)),
            Coded(behaviour, ("out of sight", "swim", "rest")),
        )
    )
    assert found.visible.mean == pytest.approx(0.8)
    assert [one.of_visible.mean for one in found.shares] == [0.5, 0.5]


def test_adjusted_residuals_against_a_textbook() -> None:
    # Agresti (1996; 2007, section 2.4.5), gender and party: X² 7.01, residuals 2.29, .46, −2.62.
    found = transitions([[279, 73, 225], [165, 47, 191]], ["women", "men"])
    assert found.chi2 == pytest.approx(7.01, abs=0.005)
    assert found.df == 2
    residuals = [one.residual for one in found.steps]
    assert residuals[:3] == pytest.approx([2.29, 0.46, -2.62], abs=0.005)
    assert residuals[3:] == pytest.approx([-2.29, -0.46, 2.62], abs=0.005)


def test_transitions_without_repeats_against_a_log_linear_fit() -> None:
    # Independent: Poisson regression of statsmodels on the cells that may be, with its leverages.
    draws = np.random.default_rng(3)
    table = draws.poisson(20, (5, 5)) * (1 - np.eye(5, dtype=int))
    row, column = np.nonzero(~np.eye(5, dtype=bool))
    x = np.column_stack([*(row == one for one in range(5)), *(column == c for c in range(1, 5))])
    fit = GLM(table[row, column], x.astype(float), family=Poisson()).fit()
    found = transitions(table, list("abcde"), repeats=False)
    expected = np.array([one.expected for one in found.steps])
    assert expected == pytest.approx(fit.fittedvalues, rel=1e-6)
    theirs = fit.get_influence().resid_studentized
    assert [one.residual for one in found.steps] == pytest.approx(list(theirs), rel=1e-5)
    assert found.chi2 == pytest.approx(fit.pearson_chi2, rel=1e-6)
    assert found.df == fit.df_resid == 11
    # Property (Bakeman and Quera 2011): the margins are kept.
    fitted = np.zeros((5, 5))
    fitted[row, column] = expected
    assert fitted.sum(axis=0) == pytest.approx(table.sum(axis=0))
    assert fitted.sum(axis=1) == pytest.approx(table.sum(axis=1))


@pytest.mark.parametrize(
    ("counts", "shannon"),
    # Zar (1999), Biostatistical Analysis, example 3.3, sparrow nests, from memory.
    [((5, 5, 5, 5), 0.602), ((1, 1, 1, 17), 0.255), ((2, 2, 2, 34), 0.255)],
)
def test_diversity_against_a_textbook(counts: tuple, shannon: float) -> None:
    assert diversity(counts, base=10).shannon == pytest.approx(shannon, abs=0.0005)


def test_the_spread_of_participation_has_its_bounds() -> None:
    # Dickens (1955), Hedeen (1982); Plowman (2003): even use 0, one zone (the smallest) alone 1.
    assert spread([7, 7, 7, 7]) == 0
    assert spread([0, 9, 0, 0]) == 1
    assert spread_unequal([50, 30, 20], [50, 30, 20]) == pytest.approx(0)
    assert spread_unequal([0, 0, 100], [50, 30, 20]) == pytest.approx(1)
    # By hand from the printed formulae.
    assert spread_unequal([60, 30, 10], [50, 30, 20]) == pytest.approx(0.125)
    assert spread_unequal([60, 25, 10, 5], [0.4, 0.3, 0.2, 0.1]) == pytest.approx(0.2222, abs=5e-5)
    assert spread([60, 25, 10, 5]) == pytest.approx(0.4667, abs=5e-5)


def test_both_spreads_are_one_where_zones_are_equal() -> None:
    # Plowman (2003): an algebraic identity.
    draws = np.random.default_rng(4)
    for _ in range(300):
        zones = int(draws.integers(2, 9))
        seen = draws.integers(0, 50, zones) + np.eye(1, zones, 0, dtype=int)[0]
        assert spread(seen) == pytest.approx(spread_unequal(seen, np.ones(zones)))


def test_electivity_has_its_properties() -> None:
    # Vanderploeg and Scavia (1979): random use 0, avoidance −1, at most (n − 1) / (n + 1).
    assert electivity([20, 30, 50], [2, 3, 5]) == pytest.approx([0, 0, 0])
    assert electivity([0, 1, 1], [1, 1, 1])[0] == -1
    assert electivity([0, 0, 0, 9], [1, 1, 1, 1])[3] == pytest.approx(3 / 5)
    # By hand: r 60, 25, 10, 5 of p .4, .3, .2, .1, weights 1.5, .8333, .5, .5 over 3.3333.
    weights = np.array([1.5, 0.8333333, 0.5, 0.5]) / 3.3333333
    assert electivity([60, 25, 10, 5], [0.4, 0.3, 0.2, 0.1]) == pytest.approx(
        (weights - 0.25) / (weights + 0.25), abs=1e-6
    )
    assert electivity([60, 25, 10, 5], [0.4, 0.3, 0.2, 0.1]) == pytest.approx(
        [0.2857, 0, -0.25, -0.25], abs=5e-5
    )


def test_levels_are_averaged_by_energy() -> None:
    # ISO 18405 and IEC 61672, from memory: 60 and 70 dB make 67.4, not 65.
    assert mean_level([Level(60, "air"), Level(70, "air")]) == pytest.approx(67.4, abs=0.05)


def test_which_interval_of_a_time_budget_covers(monkeypatch: pytest.MonkeyPatch) -> None:
    # The project's simulation (400 runs): 6 animals, 10 sessions of 20 scans, spread between
    # animals .6 and between sessions .8 in logits. Coverage: pooled scans .40, t over animals .943,
    # sessions drawn again within these animals .907.
    monkeypatch.setattr(budgets, "DRAWN", 400)
    runs, animals, sessions, scans = 400, 6, 10, 20
    draws = np.random.default_rng(5)
    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    weights = weights / weights.sum()
    truth = weights @ special.expit(-1 + np.hypot(0.6, 0.8) * nodes)
    place = np.repeat(np.arange(animals), sessions)
    full, none = np.full(len(place), float(scans)), np.zeros(len(place))
    names = tuple(f"A{one}" for one in range(animals))
    covered = np.zeros(3)
    for _ in range(runs):
        level = -1 + draws.normal(0, 0.6, animals)
        of_these = (special.expit(level[:, None] + 0.8 * nodes) @ weights).mean()
        each = special.expit(level[place] + draws.normal(0, 0.8, len(place)))
        seen = draws.binomial(scans, each).astype(float)
        amounts = Amounts(("swim",), seen[:, None], full, none, place, names)
        found = budget_of(amounts, Summary.SHARE_OF_POINTS, these_animals=True)
        swim = found.of("swim")
        pooled = wilson(int(seen.sum()), int(full.sum()))
        low, high = swim.these_animals
        covered += [
            pooled.low <= truth <= pooled.high,
            swim.of_visible.low <= truth <= swim.of_visible.high,
            low <= of_these <= high,
        ]
    # Both sides are simulations of 400 runs: four standard errors of their difference.
    for share, said in zip(covered / runs, (0.40, 0.943, 0.907), strict=True):
        assert share == pytest.approx(said, abs=4 * np.sqrt(2 * said * (1 - said) / runs))
