"""One animal in phases: the power of a randomisation test when sessions resemble each other."""

from dataclasses import dataclass

import numpy as np

from registry.design import bounds
from registry.design.phases import Phases, reach
from registry.design.simulating.analyses import LISTED
from registry.design.simulating.chance import Chance, Numbers
from registry.design.simulating.running import Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseStudy:
    """One animal, watched in phases whose changes are drawn.

    Parameters
    ----------
    phases : Phases
        Two different letters; the second is the treatment.
    effect : float
        What the treatment adds, in the outcome's own unit.
    sd : float
        Standard deviation of a session about its level, above 0.
    autocorrelation : float, default 0
        Correlation of a session with the one before, above −1 and below 1.
    """

    phases: Phases
    effect: float
    sd: float
    autocorrelation: float = 0.0

    def __post_init__(self) -> None:
        bounds.number("effect", self.effect, "effect")
        bounds.spread(self.sd)
        bounds.correlation_of(self.autocorrelation, "autocorrelation", "autocorrelation")
        if len(set(self.phases.phases)) != 2:
            bounds.refuse(
                "phases",
                "Two kinds of phase are compared.",
                f"“{self.phases.phases}” has {len(set(self.phases.phases))}.",
                "Write the phases with two letters, such as ABAB.",
            )

    def drawn(self, chance: Chance, runs: int) -> Numbers:
        """Draw sessions without the treatment, of shape (runs, sessions)."""
        series = chance.normal(runs, self.phases.sessions)
        rho = self.autocorrelation
        for session in range(1, self.phases.sessions):
            series[:, session] *= (1 - rho**2) ** 0.5
            series[:, session] += rho * series[:, session - 1]
        series *= self.sd
        return series


def simulate_phases(
    study: PhaseStudy, *, runs: int = 10_000, seed: int = 1, alpha: float = 0.05
) -> tuple[Rate, Rate]:
    """Give power and type I error of the two-sided randomisation test of two kinds of phase.

    Parameters
    ----------
    study : PhaseStudy
    runs : int, default 10,000
    seed : int, default 1
    alpha : float, default 0.05

    Returns
    -------
    power, type_one : Rate

    Raises
    ------
    Unsound
        Where the design can never reject, and where its assignments are too many to go through.

    Notes
    -----
    The statistic is the difference between the means of the two kinds of phase; p is the share of
    admissible assignments in which it is as large. The test is valid whatever the autocorrelation,
    because the changes are drawn; its power is not the same.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed., ch. 11.

    Examples
    --------
    >>> design = Phases(sessions=24, phases="ABAB", shortest=4)
    >>> power, type_one = simulate_phases(PhaseStudy(phases=design, effect=3, sd=1), runs=2000)
    >>> power.share > 0.9, type_one.share < 0.07
    (True, True)
    """
    bounds.whole("runs", runs, 100, "number of simulated studies")
    found = reach(study.phases.assignments, alpha=alpha)
    if not found.is_confirmatory:
        bounds.refuse("phases", "This design can never reject.", found.said, "Change the plan.")
    if study.phases.assignments > LISTED:
        bounds.refuse(
            "phases",
            "The assignments are too many to simulate.",
            f"There are {study.phases.assignments:,}; up to {LISTED:,} are gone through.",
            "Make the phases longer, or plan fewer sessions.",
        )
    kinds = sorted(set(study.phases.phases))
    treated = np.array([[one == kinds[1] for one in row] for row in study.phases.every()], float)
    weights = treated / treated.sum(axis=1, keepdims=True)
    weights -= (1 - treated) / (1 - treated).sum(axis=1, keepdims=True)
    chance = Chance(seed)
    series = study.drawn(chance, runs)
    actual = chance.below(len(treated), runs)
    none = _rejected(series, actual, weights, alpha)
    with_effect = series + study.effect * treated[actual]
    return Rate(_rejected(with_effect, actual, weights, alpha), runs), Rate(none, runs)


def _rejected(series: Numbers, actual: np.ndarray, weights: Numbers, alpha: float) -> int:
    apart = np.abs(series @ weights.T)
    seen = np.take_along_axis(apart, actual[:, None], axis=1)
    return int(np.count_nonzero((apart >= seen * (1 - 1e-9)).mean(axis=1) <= alpha + 1e-12))
