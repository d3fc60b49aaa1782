"""Simulated tank studies and analytic answers, beside what a careful student would write.

    .venv/bin/python -m tests.benchmarks.designs [STUDIES]

8 tanks of 10 animals, tank means compared by t; both sides draw and analyse in this very run, and
their powers must agree within Monte Carlo error. Looping is measured on fewer studies and scaled,
which is said in its case.
"""

import sys
import time
from collections.abc import Callable

import numpy as np
import pandas as pd
from scipy import stats
from statsmodels.stats.weightstats import ttest_ind as their_ttest

from registry.design import (
    Analysis,
    ShareTest,
    Study,
    TankMeans,
    TwoGroups,
    TwoShares,
    fisher_p,
    power_of_region,
    sensitivity,
    simulate,
    solve,
    unconditional_region,
)
from registry.design.simulating.analyses import rejects
from registry.design.simulating.chance import Chance
from tests.benchmarks._said import note, say

STUDIES = 10_000
LOOPED = 200
ARMS, TANKS, FISH = 2, 4, 10


def ours(studies: int) -> float:
    """Draw and analyse, all at once."""
    study = Study(means=[0, 1], units=TANKS, per_unit=FISH, icc=0.2)
    chance = Chance(1)
    return float(rejects(study.drawn(chance, studies), Analysis.UNIT_T, 0.05, chance).mean())


def _drawn(draws: np.random.Generator, studies: int) -> np.ndarray:
    own = draws.normal(0, 0.2**0.5, (studies, ARMS, TANKS, 1))
    fish = draws.normal(0, 0.8**0.5, (studies, ARMS, TANKS, FISH))
    return fish + own + np.array([0.0, 1.0])[:, None, None]


def vectorised(studies: int) -> float:
    """Draw with numpy, and compare along one axis with scipy."""
    means = _drawn(np.random.default_rng(1), studies).mean(axis=3)
    return float((stats.ttest_ind(means[:, 0], means[:, 1], axis=1).pvalue < 0.05).mean())


def _frame(draws: np.random.Generator) -> tuple[pd.Series, pd.Series]:
    table = pd.DataFrame(
        {
            "arm": np.repeat([0, 1], TANKS * FISH),
            "tank": np.repeat(np.arange(ARMS * TANKS), FISH),
            "mass": _drawn(draws, 1).ravel(),
        }
    )
    means = table.groupby(["arm", "tank"])["mass"].mean()
    return means[0], means[1]


def looped_scipy(studies: int) -> float:
    """Go study by study, each a data frame, with scipy."""
    draws = np.random.default_rng(1)
    return float(np.mean([stats.ttest_ind(*_frame(draws)).pvalue < 0.05 for _ in range(studies)]))


def looped_statsmodels(studies: int) -> float:
    """Go study by study, each a data frame, with statsmodels."""
    draws = np.random.default_rng(1)
    return float(np.mean([their_ttest(*_frame(draws))[1] < 0.05 for _ in range(studies)]))


def timed(work: Callable[[int], float], studies: int, times: int) -> tuple[float, float]:
    """Give the least seconds of some runs, and the power found."""
    least, power = float("inf"), 0.0
    for _ in range(times):
        began = time.process_time()
        power = work(studies)
        least = min(least, time.process_time() - began)
    return least, power


def answers() -> None:
    """Measure one whole answer of the page: number, power, effect, curve and sensitivity."""
    design = TankMeans(sd=1, icc=0.2, per_unit=15)

    def answer(times: int) -> float:
        for _ in range(times):
            found = solve(design, effect=0.8, power=0.8)
            solve(design, n=6, power=0.8)
            for n in range(2, 42):
                design.power(n, 0.8)
            sensitivity(found)
        return found.power

    mine, _ = timed(answer, 20, 3)
    say("one analytic answer with curve and sensitivity", 1000 * mine / 20, 50, "ms")

    def number(times: int) -> float:
        for _ in range(times):
            found = solve(TwoGroups(sd=1), effect=0.5, power=0.8)
        return found.power

    mine, _ = timed(number, 50, 3)
    say("one number of units", 1000 * mine / 50, 50, "ms")


def boschloo() -> None:
    """Measure the exact test of few: its power beside scipy's test of every outcome, and a number.

    Both find which outcomes of two arms of 12 are rejected; what was reckoned before is forgotten.
    """
    arm, p1, p2 = 12, 0.2, 0.8

    def mine(times: int) -> float:
        for _ in range(times):
            fisher_p.cache_clear()
            unconditional_region.cache_clear()
            found = power_of_region(unconditional_region(arm, arm, 0.05), p1, p2)
        return found

    def theirs(times: int) -> float:
        del times
        rejected = np.array(
            [
                [
                    stats.boschloo_exact([[a, b], [arm - a, arm - b]]).pvalue <= 0.05
                    for b in range(arm + 1)
                ]
                for a in range(arm + 1)
            ]
        )
        return power_of_region(rejected, p1, p2)

    took, power = timed(mine, 10, 3)
    other, their_power = timed(theirs, 1, 1)
    assert abs(power - their_power) < 1e-6
    say("Boschloo's power at 12 in each arm", 1000 * took / 10, 1000 * other, "ms")

    def number(times: int) -> float:
        for _ in range(times):
            fisher_p.cache_clear()
            unconditional_region.cache_clear()
            asked = TwoShares(baseline=0.3, by=ShareTest.BOSCHLOO)
            found = solve(asked, effect=0.3, power=0.8)
            sensitivity(found)
        return found.power

    took, _ = timed(number, 1, 3)
    say("Boschloo's number with sensitivity, nothing reckoned before", 1000 * took, 50, "ms")


def main() -> None:
    """Measure every case."""
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else STUDIES
    mine, power = timed(ours, studies, 7)
    at_once, other = timed(vectorised, studies, 7)
    note(f"power: ours {power:.3f}, scipy at once {other:.3f}, exact {exact():.3f}")
    error = (0.25 / studies) ** 0.5
    assert abs(power - exact()) < 4 * error
    assert abs(other - exact()) < 4 * error
    say(f"{studies:,} tank studies, scipy along one axis", mine, at_once, "s of computing")
    for name, work in (("scipy", looped_scipy), ("statsmodels", looped_statsmodels)):
        took, other = timed(work, LOOPED, 2)
        assert abs(other - exact()) < 4 * (0.25 / LOOPED) ** 0.5
        scaled = took * studies / LOOPED
        case = f"{studies:,} tank studies, {name} looped over data frames ({LOOPED} scaled)"
        say(case, mine, scaled, "s of computing")
    study = Study(means=[0, 1], units=TANKS, per_unit=FISH, icc=0.2)
    means = study.of_unit_means()
    short, power = timed(
        lambda n: float(
            rejects(means.drawn(Chance(2), n), Analysis.UNIT_T, 0.05, Chance(2)).mean()
        ),
        studies,
        7,
    )
    assert abs(power - exact()) < 4 * error
    say(f"{studies:,} tank studies, tank means drawn as such", short, at_once, "s of computing")
    whole, _ = timed(lambda n: simulate(study, Analysis.UNIT_T, runs=n).power.share, studies, 3)
    say("the same with and without effect, as the page asks", whole, at_once * 2, "s of computing")
    answers()
    boschloo()


def exact() -> float:
    """Give the exact power of the t test of tank means."""
    return TankMeans(sd=1, icc=0.2, per_unit=FISH).power(TANKS, 1)


if __name__ == "__main__":
    main()
