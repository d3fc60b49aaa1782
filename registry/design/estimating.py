"""Mean, spread, ICC and correlation within animals, from the data that an earlier cohort left."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from math import nan, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy import special

from registry.design import bounds

type Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a table says of an outcome, for the next plan.

    Parameters
    ----------
    values, units : int
        Rows used, and different units (tanks, or animals seen again and again).
    left_out : int
        Rows without a value or without a unit.
    mean : float
        Mean of the units' means, in the outcome's own unit.
    sd : float
        Standard deviation of one value: the root of both variances together.
    sd_units, sd_within : float
        Between units, and within them.
    icc : float
        Share of the variance between units, 0 to 1: also the correlation of two values of a unit.
    icc_low, icc_high : float
        Its 95 per cent interval, 0 to 1; exact where units are of one size.
    per_unit : float
        Values in a typical unit: the harmonic mean.
    lag_one : float or None
        Correlation of a value with the one before it in the same unit, over what units and arms
        explain; None where there are fewer than three such pairs.
    source : str
        What was read: the identifier of a version.
    """

    values: int
    units: int
    left_out: int
    mean: float
    sd: float
    sd_units: float
    sd_within: float
    icc: float
    icc_low: float
    icc_high: float
    per_unit: float
    lag_one: float | None
    source: str

    @property
    def said(self) -> str:
        """The estimate in a sentence, with its source."""
        source = f" (from {self.source})" if self.source else ""
        return (
            f"Mean {self.mean:.4g}, standard deviation {self.sd:.4g}, ICC {self.icc:.2f} "
            f"({self.icc_low:.2f} to {self.icc_high:.2f}) from {self.values} values in "
            f"{self.units} units{source}."
        )


def estimate(
    values: Sequence[float | None],
    units: Sequence[Hashable],
    *,
    arms: Sequence[Hashable] | None = None,
    source: str = "",
) -> Estimate:
    """Estimate what a plan must know from a table with a row for each value.

    Parameters
    ----------
    values : sequence of float or None
        The outcome; what is missing is left out and counted.
    units : sequence of hashable
        Tank or animal of each row; None is missing.
    arms : sequence of hashable, optional
        Treatment of each row; its effect is taken out before the spread is estimated.
    source : str, optional
        Identifier of the version that was read.

    Returns
    -------
    Estimate

    Raises
    ------
    Unsound
        Where the lists are of unequal lengths, fewer than two units are left in every arm, no unit
        has two values, or nothing varies.

    Notes
    -----
    Variance components from the analysis of variance, units within arms, with the usual mean size
    for uneven units; a negative one is taken as 0. For units of one size this is also the REML
    estimate wherever it is not negative. With few units the interval is wide: read it.

    References
    ----------
    Searle, S. R., Casella, G. and McCulloch, C. E. (1992). Variance Components, ch. 3 (interval).
    Donner, A. and Klar, N. (2000).

    Examples
    --------
    >>> found = estimate([1.0, 1.2, 3.0, 3.4, None], ["a", "a", "b", "b", "b"])
    >>> found.units, found.left_out, round(found.icc, 3)
    (2, 1, 0.978)
    """
    y, unit, arm = _kept(values, units, arms)
    sizes = np.bincount(unit)
    first = np.unique(unit, return_index=True)[1]
    arm_of = arm[first]
    means = np.bincount(unit, y) / sizes
    between, within, n0 = _squares(y, unit, sizes, means, arm_of)
    share = max(0.0, (between[0] - within[0]) / n0)
    total = share + within[0]
    if total <= 1e-24 * max(1.0, float(np.abs(y).max())) ** 2:
        bounds.refuse(
            "values",
            "Nothing varies in these data.",
            "All values of an arm are the same.",
            "Check which column was taken; a spread of 0 cannot be planned with.",
        )
    low, high = _interval(between, within, n0)
    return Estimate(
        values=len(y),
        units=len(sizes),
        left_out=len(values) - len(y),
        mean=float(means.mean()),
        sd=sqrt(total),
        sd_units=sqrt(share),
        sd_within=sqrt(within[0]),
        icc=share / total,
        icc_low=low,
        icc_high=high,
        per_unit=float(len(sizes) / (1 / sizes).sum()),
        lag_one=_lag_one(y - means[unit], unit),
        source=source,
    )


def _kept(
    values: Sequence[float | None],
    units: Sequence[Hashable],
    arms: Sequence[Hashable] | None,
) -> tuple[Numbers, NDArray[np.intp], NDArray[np.intp]]:
    """Give value, unit within its arm, and arm of each row that has a value and a unit."""
    given: Sequence[Hashable] = [""] * len(values) if arms is None else arms
    if not len(values) == len(units) == len(given):
        bounds.refuse(
            "values",
            "The columns are not of one length.",
            f"{len(values)} values, {len(units)} units and {len(given)} arms were given.",
            "Give one of each for every row.",
        )
    y = np.array([nan if one is None else one for one in values], dtype=float)
    named, arm = _codes(units, missing=True), _codes(given)
    there = np.isfinite(y) & (named >= 0)
    if not there.any():
        bounds.refuse(
            "values",
            "No row has a value and a unit.",
            f"{len(values)} rows were read.",
            "Choose a column of numbers, and the column that names the tank or animal.",
        )
    # A name in two arms is two units.
    pairs = named[there] * (int(arm.max()) + 1) + arm[there]
    unit = np.unique(pairs, return_inverse=True)[1]
    return y[there], unit, np.unique(arm[there], return_inverse=True)[1]


def _codes(names: Sequence[Hashable], *, missing: bool = False) -> NDArray[np.intp]:
    """Number names in the order in which they come; below 0 is missing, where None or "" is so."""
    known: dict[Hashable, int] = {None: -1, "": -1} if missing else {}
    first = -len(known)
    return np.array([known.setdefault(one, len(known) + first) for one in names], dtype=np.intp)


def _squares(
    y: Numbers,
    unit: NDArray[np.intp],
    sizes: NDArray[np.intp],
    means: Numbers,
    arm_of: NDArray[np.intp],
) -> tuple[tuple[float, int], tuple[float, int], float]:
    """Give mean squares with degrees of freedom between and within units, and the mean size."""
    arms = int(arm_of.max()) + 1
    df_between, df_within = len(sizes) - arms, len(y) - len(sizes)
    if df_between < 1 or df_within < 1:
        bounds.refuse(
            "units",
            "The spread between units and within them cannot both be estimated.",
            f"{len(sizes)} units in {arms} arms hold {len(y)} values.",
            "Choose a table with two units in an arm, and two values in a unit, at the least.",
        )
    in_arm = np.bincount(arm_of, sizes)
    arm_means = np.bincount(arm_of, sizes * means) / in_arm
    between = float((sizes * (means - arm_means[arm_of]) ** 2).sum()) / df_between
    within = float(((y - means[unit]) ** 2).sum()) / df_within
    n0 = (len(y) - float((np.bincount(arm_of, sizes**2) / in_arm).sum())) / df_between
    return (between, df_between), (within, df_within), n0


def _interval(
    between: tuple[float, int], within: tuple[float, int], n0: float
) -> tuple[float, float]:
    """Give the 95 per cent interval of the ICC, from the distribution of the ratio of squares."""
    if within[0] == 0:
        return 1.0, 1.0
    ratio = between[0] / within[0]
    ends = []
    for share in (0.975, 0.025):
        f = ratio / float(special.fdtri(between[1], within[1], share))
        ends.append(min(1.0, max(0.0, (f - 1) / (f + n0 - 1))))
    return ends[0], ends[1]


def _lag_one(left: Numbers, unit: NDArray[np.intp]) -> float | None:
    order = np.argsort(unit, kind="stable")
    left, unit = left[order], unit[order]
    same = unit[1:] == unit[:-1]
    squares = float((left**2).sum())
    if same.sum() < 3 or squares == 0:
        return None
    pairs = float((left[1:] * left[:-1])[same].sum())
    return pairs / squares * len(left) / int(same.sum())
