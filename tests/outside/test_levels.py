"""The level and the power of the tests that are proposed, by simulation of a true null.

Published shares are those of the project's notes on methods, 400 runs each; two simulations may
differ by four standard errors of their difference. What has no published share must not be above
its level by more than four.
"""

import math
from collections.abc import Callable, Iterator
from itertools import product

import numpy as np
import pytest
from scipy import special, stats

from archive.analysis import Arms, Phased, randomisation, unit_t
from archive.analysis.asked.along import Sessions, line_over
from archive.analysis.asked.sides import Sides
from archive.analysis.asked.testing import TESTS
from archive.analysis.comparing.covariates import along
from archive.analysis.comparing.proposing import Outcome, propose
from archive.analysis.comparing.shares import empirical_logits, logit_t, quasi_binomial
from registry.design import Phases

pytestmark = pytest.mark.outside

RUNS = 400
ALPHA = 0.05
ABOVE = ALPHA + 4 * math.sqrt(ALPHA * (1 - ALPHA) / RUNS)


def apart(said: float) -> float:
    """Give four errors of the difference of two shares of 400 runs."""
    return 4 * math.sqrt(2 * max(said * (1 - said), 0.01) / RUNS)


def named(units: int, arms: int, *, within: bool) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Name units and their arms: units of their own for each arm, or all in every arm."""
    pairs = [(f"u{u}" if within else f"u{a}{u}", f"arm {a}") for a, u in product(range(arms),
             range(units))]  # fmt: skip
    return tuple(unit for unit, _ in pairs), tuple(arm for _, arm in pairs)


DEFAULTS = [
    (outcome, arms, within, foretold)
    for outcome, arms, within, foretold in product(
        Outcome, (2, 3), (False, True), (False, True)
    )
    # An order is foretold of conditions within units; times to an event are of separate units.
    if within >= foretold and not (within and outcome in {Outcome.TIME, Outcome.SHARE})
]  # fmt: skip


@pytest.mark.parametrize(("outcome", "arms", "within", "foretold"), DEFAULTS)
def test_what_is_proposed_keeps_its_level(
    outcome: Outcome, arms: int, within: bool, foretold: bool
) -> None:
    units = 5 if arms == 2 else 3
    names, in_arms = named(units, arms, within=within)
    test = propose(
        outcome, dict.fromkeys(sorted(set(in_arms)), units), within=within, foretold=foretold
    ).test
    draws = np.random.default_rng(31)
    level = draws.normal(0, 1, (RUNS, units)) if within else np.zeros((RUNS, 1))
    values = draws.normal(0, 1, (RUNS, len(names))) + np.tile(level, (1, arms if within else 1))
    counts = None
    if outcome is Outcome.SHARE:
        seen = draws.binomial(25, special.expit(0.6 * values))
        counts, values = (seen, np.full_like(seen, 25)), empirical_logits(seen, 25 + 0 * seen)
    low = 0
    for run in range(RUNS):
        own = None if counts is None else (counts[0][run], counts[1][run])
        sides = Sides(outcome, "o", names, in_arms, values[run], "arm 0", own, within)
        told, _ = TESTS[test](sides)
        low += told[0].p <= ALPHA
    assert low / RUNS <= ABOVE, test


def tanks(fish: int, each: int, effect: float = 0.0) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Give fish in tanks, ICC .2: shape (tanks, fish), the first half of the tanks treated."""
    draws = np.random.default_rng(12)
    for _ in range(RUNS):
        level = draws.normal(0, math.sqrt(0.2), (2 * each, 1)) + draws.normal(
            0, math.sqrt(0.8), (2 * each, fish)
        )
        level[:each] += effect
        yield level[:each], level[each:]


@pytest.mark.parametrize(("each", "by_fish", "by_tank"), [(3, 0.278, 0.043), (4, 0.245, 0.043)])
def test_fish_of_one_tank_are_no_replication(each: int, by_fish: float, by_tank: float) -> None:
    # The notes, ten fish in each tank: the t test of fish rejects five times too often.
    found = np.zeros(2)
    for one, other in tanks(10, each):
        p = unit_t(one.ravel(), other.ravel()).p, unit_t(one.mean(axis=1), other.mean(axis=1)).p
        found += np.array(p) <= ALPHA
    assert found / RUNS == pytest.approx([by_fish, by_tank], abs=apart(by_fish))
    assert found[1] / RUNS <= ABOVE


def test_tanks_have_the_power_that_was_noted() -> None:
    # The notes, four tanks an arm, a difference of one deviation: .62 by t, .45 by the draw; the
    # noncentral t gives .609 (analytic).
    found, arm = np.zeros(2), Arms([1] * 4 + [0] * 4)
    for one, other in tanks(10, 4, effect=1.0):
        means = one.mean(axis=1), other.mean(axis=1)
        p = unit_t(*means).p, randomisation(arm, np.concatenate(means)).p
        found += np.array(p) <= ALPHA
    assert found / RUNS == pytest.approx([0.62, 0.45], abs=apart(0.5))
    assert found[0] / RUNS == pytest.approx(0.609, abs=4 * math.sqrt(0.25 / RUNS))


def test_eggs_of_eight_tanks_an_arm() -> None:
    # The notes, 25 eggs a tank, deviation between tanks .6 in logits: quasi-binomial .055,
    # empirical logits .055, shares by t .062; eggs taken as independent .230.
    draws = np.random.default_rng(7)
    eggs = draws.binomial(25, special.expit(draws.normal(0, 0.6, (RUNS, 16))))
    of, found = [25] * 8, np.zeros(4)
    for seen in eggs:
        one, other = seen[:8], seen[8:]
        share = seen.sum() / 400
        error = math.sqrt(share * (1 - share) * 2 / 200)
        found += np.array([
            quasi_binomial(one, of, other, of).p,
            logit_t(one, of, other, of).p,
            unit_t(one / 25, other / 25).p,
            2 * stats.norm.sf(abs(one.sum() - other.sum()) / 200 / error),
        ]) <= ALPHA  # fmt: skip
    for ours, said in zip(found / RUNS, (0.055, 0.055, 0.062, 0.230), strict=True):
        assert ours == pytest.approx(said, abs=apart(said))
    assert (found[:3] / RUNS <= ABOVE).all()


def test_changes_of_phase_that_were_drawn_keep_the_level_whatever_the_series() -> None:
    # Edgington and Onghena (2007), chapter 11: the draw alone makes the test valid, also of
    # sessions that depend on the one before.
    draws, plan = np.random.default_rng(3), Phases(sessions=24, phases="ABAB", shortest=4)
    every, low = plan.every(), 0
    noise = draws.normal(0, 1, (RUNS, 24))
    for session in range(1, 24):
        noise[:, session] += 0.7 * noise[:, session - 1]
    for series in noise:
        drawn = Phased([plan], [every[int(draws.integers(len(every)))]])
        low += randomisation(drawn, series).p <= ALPHA
    assert low / RUNS <= ABOVE


def shared(slope: Callable[[Sessions], float]) -> float:
    """Give how often a null slope is rejected where six animals share eight noisy sessions."""
    draws, low = np.random.default_rng(9), 0
    animal = [f"a{n % 6}" for n in range(48)]
    session = [f"s{n // 6}" for n in range(48)]
    for _ in range(RUNS):
        of, both = np.repeat(draws.normal(0, 1, (2, 8)), 6, axis=1)
        low += slope(Sessions(animal, session, both + draws.normal(0, 1, 48), of)) <= ALPHA
    return low / RUNS


def test_sessions_that_animals_share_are_the_units_of_a_covariate() -> None:
    # Property: what else happened in a session moves all animals in it, so that animals are no
    # replication of it; taken as such they reject far too often.
    over_sessions = shared(lambda held: float((line_over(held) or (0, 0, 0, 1))[3] or 1))
    assert over_sessions <= ABOVE
    over_animals = shared(lambda held: along(held.outcome, held.covariate, held.animal).p or 1)
    assert over_animals > 3 * ABOVE
