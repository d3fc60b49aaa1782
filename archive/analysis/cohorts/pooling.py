"""Cohorts pooled by random effects: what they say together, and how much they differ."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import inf, sqrt

import numpy as np
from scipy import special

from archive.analysis.bounded import Bounded, around
from archive.analysis.cohorts.found import Cohort
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.solving import bisected

FEW = 5
ROUNDS = 1000


class Method(StrEnum):
    """How the variance between cohorts is estimated."""

    DERSIMONIAN_LAIRD = "DerSimonian–Laird"
    REML = "restricted maximum likelihood"
    PAULE_MANDEL = "Paule–Mandel"


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the forest plot.

    Parameters
    ----------
    name : str
    effect, low, high : float
        Of the cohort alone, with a normal interval.
    weight : float
        Its share in the pooled effect, 0 to 1.
    units : int
    """

    name: str
    effect: float
    low: float
    high: float
    weight: float
    units: int


@dataclass(frozen=True, slots=True)
class Pooled:
    """What cohorts say together.

    Parameters
    ----------
    method : Method
    scale : str
    effect : Bounded
        Mean of the effects of such cohorts.
    error : float
        Its standard error.
    p : float
        Of no mean effect.
    between : float
        Variance between cohorts, tau², in the scale's unit squared.
    q, q_df, q_p : float
        Cochran's test of whether they differ more than chance; with few cohorts it finds little.
    inconsistency : float
        I², share of the variation that is not chance, 0 to 1.
    next_low, next_high : float or None
        Where the effect of one more such cohort is expected; None of fewer than three.
    rows : tuple of Row
    gaps : tuple of Gap
    """

    method: Method
    scale: str
    effect: Bounded
    error: float
    p: float
    between: float
    q: float
    q_df: int
    q_p: float
    inconsistency: float
    next_low: float | None
    next_high: float | None
    rows: tuple[Row, ...]
    gaps: tuple[Gap, ...]


def pool(
    cohorts: Sequence[Cohort],
    *,
    method: Method = Method.REML,
    hartung_knapp: bool = True,
    confidence: float = 0.95,
) -> Pooled:
    """Pool the effects that cohorts found.

    Parameters
    ----------
    cohorts : sequence of Cohort
        Two or more on one scale.
    method : Method, default REML
    hartung_knapp : bool, default True
        Interval by t with the spread that cohorts show; without it a normal one, which covers too
        seldom where cohorts are few.
    confidence : float, default 0.95

    Raises
    ------
    Unsound
        Where there is one cohort alone, or scales differ.

    References
    ----------
    DerSimonian, R. and Laird, N. (1986). Controlled Clinical Trials 7, 177–188. Paule, R. C. and
    Mandel, J. (1982). Viechtbauer, W. (2005). Journal of Educational and Behavioral Statistics 30,
    261–293 (REML). Hartung, J. and Knapp, G. (2001). Statistics in Medicine 20, 1771–1782. Higgins,
    J. P. T. et al. (2009). Journal of the Royal Statistical Society A 172, 137–159 (next cohort).

    Examples
    --------
    >>> years = [Cohort("a", 1.0, 0.2, "g", 8), Cohort("b", 2.0, 0.2, "g", 8)]
    >>> found = pool(years)
    >>> found.effect.value, round(found.between, 3)
    (1.5, 0.3)
    """
    y, v = _checked(cohorts)
    k = len(y)
    between = {
        Method.DERSIMONIAN_LAIRD: _dersimonian_laird,
        Method.REML: _reml,
        Method.PAULE_MANDEL: _paule_mandel,
    }[method](y, v)
    weight = 1 / (v + between)
    effect = float(weight @ y / weight.sum())
    plain = sqrt(1 / float(weight.sum()))
    spread = float(weight @ (y - effect) ** 2) / (k - 1)
    error = sqrt(spread) * plain if hartung_knapp else plain
    df = k - 1.0 if hartung_knapp else inf
    how = "t, Hartung and Knapp" if hartung_knapp else "normal"
    ratio = abs(effect) / error if error > 0 else (inf if effect else 0.0)
    p = 2 * float(special.ndtr(-ratio) if df == inf else special.stdtr(df, -ratio))
    q = _q(y, v, 0.0)
    next_low, next_high = _next(effect, plain, between, k, confidence)
    return Pooled(
        method,
        cohorts[0].scale,
        around(effect, error, df=df, confidence=confidence, how=how),
        error,
        p,
        between,
        q,
        k - 1,
        float(special.chdtrc(k - 1, q)),
        _inconsistency(between, v),
        next_low,
        next_high,
        _rows(cohorts, weight, confidence),
        tuple(_said_of_few(k, hartung_knapp and spread < 1)),
    )


def _checked(cohorts: Sequence[Cohort]) -> tuple[Numbers, Numbers]:
    scales = sorted({one.scale for one in cohorts})
    if len(cohorts) < 2:
        bounds.refuse(
            "cohorts",
            "One cohort cannot be pooled.",
            f"{len(cohorts)} were given.",
            "Show what it found by itself.",
        )
    if len(scales) > 1:
        bounds.refuse(
            "cohorts",
            "These cohorts did not measure on one scale.",
            f"They were given in {' and in '.join(scales)}.",
            "Bring them to one unit, or pool standardised differences and say so.",
        )
    return np.array([one.effect for one in cohorts]), np.array([one.variance for one in cohorts])


def _q(y: Numbers, v: Numbers, between: float) -> float:
    """Give the weighted squares about the weighted mean."""
    weight = 1 / (v + between)
    return float(weight @ (y - weight @ y / weight.sum()) ** 2)


def _dersimonian_laird(y: Numbers, v: Numbers) -> float:
    weight = 1 / v
    scale = float(weight.sum() - weight @ weight / weight.sum())
    return max(0.0, (_q(y, v, 0.0) - (len(y) - 1)) / scale)


def _paule_mandel(y: Numbers, v: Numbers) -> float:
    """Give the variance at which the weighted squares are what they are expected to be."""
    if _q(y, v, 0.0) <= len(y) - 1:
        return 0.0
    high = float(y.var(ddof=1)) + float(v.max())
    while _q(y, v, high) > len(y) - 1:
        high *= 2
    return bisected(lambda one: -_q(y, v, one), -(len(y) - 1), 0.0, high)


def _reml(y: Numbers, v: Numbers) -> float:
    """Give the variance of the greatest restricted likelihood, by Fisher's scoring."""
    between = max(0.0, float(y.var(ddof=1) - v.mean()))
    for _ in range(ROUNDS):
        weight = 1 / (v + between)
        total = float(weight.sum())
        squares = weight**2
        apart = (y - weight @ y / total) ** 2
        # P = W − W 1 1' W / total; the score and the information need its trace and its square's.
        trace = total - float(squares.sum()) / total
        trace_of_square = (
            float(squares.sum())
            - 2 * float((weight**3).sum()) / total
            + float(squares.sum()) ** 2 / total**2
        )
        step = (float(squares @ apart) - trace) / trace_of_square
        after = max(0.0, between + step)
        if abs(after - between) <= 1e-12 * max(1e-12, after):
            return after
        between = after
    return between


def _inconsistency(between: float, v: Numbers) -> float:
    """Give I²: tau² over itself and a typical variance within cohorts."""
    weight = 1 / v
    typical = (len(v) - 1) * weight.sum() / (weight.sum() ** 2 - (weight**2).sum())
    return float(between / (between + typical))


def _next(
    effect: float, error: float, between: float, k: int, confidence: float
) -> tuple[float | None, float | None]:
    if k < 3:
        return None, None
    half = float(special.stdtrit(k - 2, (1 + confidence) / 2)) * sqrt(between + error**2)
    return effect - half, effect + half


def _rows(cohorts: Sequence[Cohort], weight: Numbers, confidence: float) -> tuple[Row, ...]:
    z = float(special.ndtri((1 + confidence) / 2))
    return tuple(
        Row(
            one.name,
            one.effect,
            one.effect - z * sqrt(one.variance),
            one.effect + z * sqrt(one.variance),
            float(share),
            one.units,
        )
        for one, share in zip(cohorts, weight / weight.sum(), strict=True)
    )


def _said_of_few(k: int, is_narrower: bool) -> list[Gap]:
    gaps = []
    if k < FEW:
        gaps.append(
            Gap(
                "How much cohorts differ is hardly known.",
                f"There are {k}; with fewer than {FEW} their variance is a guess (common practice, "
                "no source).",
            )
        )
    if is_narrower:
        gaps.append(
            Gap(
                "The error is smaller than that of the cohorts themselves.",
                "They agree better than chance lets expect; look at the normal interval too.",
            )
        )
    return gaps
