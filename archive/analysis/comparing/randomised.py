"""The randomisation test: what was seen, set against all that the draw could have given."""

from dataclasses import dataclass
from enum import StrEnum
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.comparing.drawing import Drawn
from archive.analysis.comparing.parts import DRAWN, actual_sum, looked_at
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds


class Side(StrEnum):
    """Which outcomes count as extreme."""

    BOTH = "both"
    GREATER = "greater"
    LESS = "less"


@dataclass(frozen=True, slots=True)
class Randomised:
    """A randomisation test.

    Parameters
    ----------
    effect : float
        Mean under the treatment less mean without it, in the outcome's own unit; blocks and
        animals count once each.
    p : float
        0 to 1.
    arrangements : int
        That the draw could have given.
    drawn : int
        How many of them were looked at, where not all.
    error : float
        Monte Carlo standard error of p; 0 where all were looked at.
    smallest_p : float
        The p of the most extreme arrangement of these data: no outcome could have a smaller one.
    low, high : float or None
        Interval of an effect that adds alike to every observation; infinite where the
        arrangements are too few; None of a test of one side.
    confidence : float
    side : Side
    gaps : tuple of Gap
    """

    effect: float
    p: float
    arrangements: int
    drawn: int
    error: float
    smallest_p: float
    low: float | None
    high: float | None
    confidence: float
    side: Side
    gaps: tuple[Gap, ...]

    @property
    def said(self) -> str:
        """What was done, in a sentence."""
        how = (
            f"{self.drawn:,} of {self.arrangements:,} arrangements, drawn (error {self.error:.4f})"
            if self.drawn
            else f"all {self.arrangements:,} arrangements"
        )
        return f"p = {self.p:.4g} from {how}; the smallest that could be is {self.smallest_p:.2g}."


def randomisation(
    drawn: Drawn,
    values: ArrayLike,
    *,
    side: Side = Side.BOTH,
    confidence: float = 0.95,
    seed: int = 1,
    draws: int = DRAWN,
) -> Randomised:
    """Test a treatment by the draw that was made.

    Parameters
    ----------
    drawn : Drawn
        Arms, Accepted, Phased or Ordered: the design as the register recorded it.
    values : array_like of float, shape (observations,)
        Outcomes in the order of the design.
    side : Side, default BOTH
    confidence : float, default 0.95
    seed : int, default 1
    draws : int, default 99999
        Where there are more than a million arrangements.

    Raises
    ------
    Unsound
        Where the values do not fit the design, or one is missing.

    Notes
    -----
    Two-sided: the share of arrangements whose difference is as far from 0. Drawn arrangements
    count the actual one among them, so that p is never 0 and the test keeps its level. The
    interval holds each effect that the test, at that effect taken off, does not reject.

    References
    ----------
    Fisher, R. A. (1935). The Design of Experiments. Edgington and Onghena (2007). Phipson, B. and
    Smyth, G. K. (2010). Statistical Applications in Genetics and Molecular Biology 9, 39 (drawn).

    Examples
    --------
    >>> from archive.analysis.comparing.drawing import Arms
    >>> found = randomisation(Arms([1, 1, 1, 1, 0, 0, 0, 0]), [8, 9, 7, 9, 3, 4, 2, 5])
    >>> found.arrangements, round(found.p, 4), found.effect
    (70, 0.0286, 4.75)
    """
    y = _checked(values, len(drawn.treated))
    gaps: list[Gap] = []
    if y.size and np.ptp(y) == 0:
        gaps.append(Gap("Nothing can be shown.", "All values are the same."))
    parts = drawn.parts(np.column_stack([y, drawn.treated.astype(float)]))
    actual = float(actual_sum(parts)[0])
    looked = looked_at(parts, seed=seed, draws=draws)
    seen = looked.statistics
    size = float(np.abs(seen[:, 0]).max())
    p = float(_extreme(seen[:, 0], actual, side, size).mean())
    ends = {Side.GREATER: seen[:, 0].max(), Side.LESS: seen[:, 0].min(), Side.BOTH: size}
    smallest = float(_extreme(seen[:, 0], float(ends[side]), side, size).mean())
    low, high = (None, None) if side != Side.BOTH else _interval(seen, actual, 1 - confidence)
    if smallest > 1 - confidence:
        gaps.append(
            Gap(
                "No outcome could have been significant.",
                f"The smallest p that these arrangements can give is {smallest:.3f}.",
            )
        )
    return Randomised(
        effect=actual,
        p=p,
        arrangements=looked.number,
        drawn=looked.drawn,
        error=looked.error(p),
        smallest_p=smallest,
        low=low,
        high=high,
        confidence=confidence,
        side=side,
        gaps=tuple(gaps),
    )


def _checked(values: ArrayLike, length: int) -> Numbers:
    y = np.asarray(values, dtype=float).ravel()
    if len(y) != length:
        bounds.refuse(
            "values",
            "The values do not fit the design.",
            f"There are {len(y)} values for {length} observations.",
            "Give one value for each, in the order of the design.",
        )
    if not np.isfinite(y).all():
        bounds.refuse(
            "values",
            "A value is missing.",
            f"{int((~np.isfinite(y)).sum())} of {length} are.",
            "Leave those units out, with the reason, and say so beside the result.",
        )
    return y


def _extreme(seen: Numbers, actual: float, side: Side, size: float) -> Numbers:
    """Say which are as extreme; sums that differ by rounding alone are the same."""
    slack = 1e-10 * max(size, 1e-300)
    if side == Side.GREATER:
        return np.asarray(seen >= actual - slack)
    if side == Side.LESS:
        return np.asarray(seen <= actual + slack)
    return np.asarray(np.abs(seen) >= abs(actual) - slack)


def _interval(seen: Numbers, actual: float, alpha: float) -> tuple[float, float]:
    """Give the effects that the test would not reject, without trying any.

    An arrangement with difference a of the outcomes and b of the treatment itself is as extreme
    as the actual one, once an effect d is taken off, where |a − d b| >= |actual − d|: between the
    two roots of a parabola, one on either side of the actual effect.
    """
    a, b = seen[:, 0], np.clip(seen[:, 1], -1, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        one = np.where(1 - b > 1e-12, (actual - a) / (1 - b), np.nan)
        other = np.where(1 + b > 1e-12, (actual + a) / (1 + b), np.nan)
    # Where a root is not there the arrangement is the actual one or its mirror image.
    always = np.isnan(one) | np.isnan(other)
    low = np.where(always, -inf, np.fmin(one, other))
    high = np.where(always, inf, np.fmax(one, other))
    place = int(alpha * len(seen) + 1e-9)
    return float(np.partition(low, place)[place]), float(-np.partition(-high, place)[place])
