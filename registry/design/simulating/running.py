"""Power and type I error of a described study, by drawing it thousands of times."""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from registry.design import bounds
from registry.design.replication import Caution
from registry.design.simulating.analyses import PSEUDO, Analysis, rejects
from registry.design.simulating.chance import STREAM, Chance
from registry.design.simulating.studies import Outcome, Study
from registry.design.tails import normal_quantile

MOST_VALUES = 400_000_000
"""Numbers that one question may draw."""
_BATCH = 1_000_000

_FOR_SHARES = frozenset({Analysis.LOGIT_T, Analysis.QUASI_T, Analysis.ANIMAL_Z})


@dataclass(frozen=True, slots=True)
class Rate:
    """How often something happened in simulated studies.

    Parameters
    ----------
    rejected, runs : int
    """

    rejected: int
    runs: int

    @property
    def share(self) -> float:
        """Share of runs, 0 to 1."""
        return self.rejected / self.runs

    @property
    def error(self) -> float:
        """Monte Carlo standard error of the share."""
        return sqrt(self.share * (1 - self.share) / self.runs)

    @property
    def interval(self) -> tuple[float, float]:
        """95 per cent interval of the share, by Wilson's formula."""
        z = normal_quantile(0.975)
        middle = (self.share + z**2 / (2 * self.runs)) / (1 + z**2 / self.runs)
        half = z * sqrt(self.error**2 + z**2 / (4 * self.runs**2))
        half /= 1 + z**2 / self.runs
        return max(0.0, middle - half), min(1.0, middle + half)

    @property
    def said(self) -> str:
        """The share with its Monte Carlo error, in words."""
        low, high = self.interval
        return f"{self.share:.3f} ± {self.error:.3f} ({low:.3f} to {high:.3f}) of {self.runs:,}"


@dataclass(frozen=True, slots=True)
class Simulated:
    """What a simulation found.

    Parameters
    ----------
    study : Study
    analysis : Analysis
    alpha : float
    power : Rate
        Of the study as described.
    type_one : Rate
        Of the same study without any effect.
    seed : int
        With `stream` all that is needed to draw it again.
    stream : str
    cautions : tuple of Caution
    """

    study: Study
    analysis: Analysis
    alpha: float
    power: Rate
    type_one: Rate
    seed: int
    cautions: tuple[Caution, ...]
    stream: str = STREAM


def simulate(
    study: Study,
    analysis: Analysis,
    *,
    runs: int = 10_000,
    seed: int = 1,
    alpha: float = 0.05,
) -> Simulated:
    """Draw a study thousands of times, with its effect and without, and analyse every one.

    Parameters
    ----------
    study : Study
    analysis : Analysis
        The test that the plan names; two-sided.
    runs : int, default 10,000
        100 or more; the Monte Carlo error is below 0.005 with 10,000.
    seed : int, default 1
        0 or above, up to ten million; recorded.
    alpha : float, default 0.05

    Notes
    -----
    An analysis that reads the units' means alone is given means that are drawn as such: of normal
    animals they are normal with a variance of sd² (ICC + (1 − ICC) / m), so nothing is lost.

    Raises
    ------
    Unsound
        Where the analysis does not fit the outcome or the arms, or so much would be drawn that the
        answer would not come.

    Examples
    --------
    >>> found = simulate(Study(means=[0, 1], units=4, per_unit=10, icc=0.2), Analysis.UNIT_T)
    >>> abs(found.power.share - 0.609) < 3 * found.power.error, found.type_one.share < 0.06
    (True, True)
    """
    bounds.alpha_of(alpha)
    bounds.whole("runs", runs, 100, "number of simulated studies")
    _fits(study, analysis)
    if study.values * runs > MOST_VALUES:
        bounds.refuse(
            "runs",
            "So much cannot be drawn while somebody waits.",
            f"{runs:,} studies of {study.values:,} animals are over {MOST_VALUES:,} numbers.",
            "Ask for fewer runs.",
        )
    drawn = study if analysis in PSEUDO else study.of_unit_means()
    power = _rate(drawn, analysis, runs, Chance(seed), alpha)
    # The same numbers again, so that the two differ by the effect alone.
    type_one = _rate(drawn.without_effect(), analysis, runs, Chance(seed), alpha)
    return Simulated(
        study, analysis, alpha, power, type_one, seed, _cautions(analysis, type_one, alpha)
    )


def _rate(study: Study, analysis: Analysis, runs: int, chance: Chance, alpha: float) -> Rate:
    batch = max(1, min(runs, _BATCH // study.values))
    found = 0
    for start in range(0, runs, batch):
        drawn = study.drawn(chance, min(batch, runs - start))
        found += int(np.count_nonzero(rejects(drawn, analysis, alpha, chance)))
    return Rate(found, runs)


def _fits(study: Study, analysis: Analysis) -> None:
    shares = study.outcome is Outcome.SHARE
    counts = study.outcome is Outcome.COUNT
    wrong = (
        (analysis in _FOR_SHARES and not shares)
        or (analysis is Analysis.COUNT_Z and not counts)
        or (analysis is Analysis.ANIMAL_T and study.outcome is not Outcome.MEASURE)
    )
    if wrong:
        bounds.refuse(
            "analysis",
            "This analysis does not fit what is observed.",
            f"The outcome is {study.outcome.value}, and the analysis is a {analysis.value}.",
            "Take another analysis: one of unit means fits every outcome.",
        )


def _cautions(analysis: Analysis, type_one: Rate, alpha: float) -> tuple[Caution, ...]:
    found = []
    if analysis in PSEUDO:
        found.append(
            Caution(
                "pseudoreplicated",
                "This analysis takes for the unit what was not treated by itself: its type I error "
                f"is {type_one.share:.3f} where {alpha:g} was asked.",
                "Hurlbert (1984), Ecological Monographs 54, 187–211",
            )
        )
    elif type_one.interval[0] > alpha:
        found.append(
            Caution(
                "too liberal",
                f"Without any effect {type_one.said} reject: more than {alpha:g}. The power is not "
                "to be believed.",
                "simulated",
            )
        )
    if type_one.rejected == 0:
        found.append(
            Caution(
                "cannot reject",
                f"Not one of {type_one.runs:,} studies without effect was significant: see whether "
                f"this analysis can reach {alpha:g} at all with so few units.",
                "simulated",
            )
        )
    return tuple(found)
