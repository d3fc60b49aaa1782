"""Time to an event: Kaplan and Meier's curve, the log-rank test, and the same for tanks."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.columns import Flags
from archive.analysis.comparing.drawing import Arms
from archive.analysis.comparing.randomised import Randomised, randomisation
from archive.analysis.comparing.units import unit_means
from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Survival:
    """The share to whom nothing has happened yet, over time.

    Parameters
    ----------
    times : tuple of float
        At which something happened, in order.
    at_risk, events : tuple of int
        Just before, and at, each time.
    share, low, high : tuple of float
        After each time, 0 to 1, with a log–log interval.
    median : float or None
        Time by which it had happened to half; None where to fewer.
    n, happened : int
    """

    times: tuple[float, ...]
    at_risk: tuple[int, ...]
    events: tuple[int, ...]
    share: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    median: float | None
    n: int
    happened: int

    def at(self, time: float) -> float:
        """Give the share just after a time."""
        place = int(np.searchsorted(self.times, time, side="right"))
        return self.share[place - 1] if place else 1.0


def _checked(time: ArrayLike, happened: ArrayLike) -> tuple[Numbers, Flags]:
    t, d = np.asarray(time, dtype=float), np.asarray(happened, dtype=bool)
    if not len(t) or t.shape != d.shape or not np.isfinite(t).all() or (t < 0).any():
        bounds.refuse(
            "time",
            "No curve can be drawn.",
            "Every animal or egg needs a time, 0 or above, and whether it happened.",
            "For what was still to come give the day on which it was last seen.",
        )
    return t, d


def survival(time: ArrayLike, happened: ArrayLike, *, confidence: float = 0.95) -> Survival:
    """Draw Kaplan and Meier's curve.

    Parameters
    ----------
    time : array_like of float, shape (n,)
        To the event, or to when it was last known not to have happened.
    happened : array_like of bool, shape (n,)
    confidence : float, default 0.95

    References
    ----------
    Kaplan, E. L. and Meier, P. (1958). Journal of the American Statistical Association 53, 457–481.
    Greenwood's variance; interval of log(−log S), Kalbfleisch and Prentice (1980).

    Examples
    --------
    >>> found = survival([3, 5, 5, 8], [True, True, False, True])
    >>> found.times, found.share, found.median
    ((3.0, 5.0, 8.0), (0.75, 0.5, 0.0), 5.0)
    """
    t, d = _checked(time, happened)
    times, events, at_risk = _table(t, d)
    share = np.cumprod(1 - events / at_risk)
    left = at_risk - events
    greenwood = np.cumsum(events / (at_risk * np.where(left > 0, left, np.nan)))
    z = float(special.ndtri((1 + confidence) / 2))
    inside = (share > 0) & (share < 1)
    safe = np.where(inside, share, 0.5)
    width = z * np.sqrt(np.where(inside, greenwood, 0.0)) / np.abs(np.log(safe))
    low, high = (np.where(inside, safe ** np.exp(sign * width), share) for sign in (1, -1))
    below = np.flatnonzero(share <= 0.5 + 1e-12)
    return Survival(
        tuple(times.tolist()),
        tuple(at_risk.astype(int).tolist()),
        tuple(events.astype(int).tolist()),
        tuple(share.tolist()),
        tuple(low.tolist()),
        tuple(high.tolist()),
        float(times[below[0]]) if len(below) else None,
        len(t),
        int(d.sum()),
    )


def _table(t: Numbers, d: Flags) -> tuple[Numbers, Numbers, Numbers]:
    """Give the times of events, how many there were, and how many were at risk."""
    times, events = np.unique(t[d], return_counts=True)
    at_risk = len(t) - np.searchsorted(np.sort(t), times, side="left")
    return times, events.astype(float), at_risk.astype(float)


@dataclass(frozen=True, slots=True)
class LogRank:
    """The log-rank test of two groups or more.

    Parameters
    ----------
    chi2, df, p : float
    seen, expected : tuple of float
        Events of each group, and as many as there would be were there no difference.
    groups : tuple of str
    """

    chi2: float
    df: int
    p: float
    seen: tuple[float, ...]
    expected: tuple[float, ...]
    groups: tuple[str, ...]


def log_rank(time: ArrayLike, happened: ArrayLike, group: Sequence[Hashable]) -> LogRank:
    """Compare times to an event by the log-rank test, each animal its own unit.

    Parameters
    ----------
    time, happened
        As in `survival`.
    group : sequence of hashable

    Notes
    -----
    Where the treatment was given to tanks, take `tank_log_rank`.

    References
    ----------
    Mantel, N. (1966). Cancer Chemotherapy Reports 50, 163–170. Kalbfleisch and Prentice (1980).

    Examples
    --------
    >>> found = log_rank([1, 2, 3, 7, 8, 9], [True] * 6, ["a"] * 3 + ["b"] * 3)
    >>> round(found.chi2, 3), found.seen
    (5.052, (3.0, 3.0))
    """
    t, d = _checked(time, happened)
    names = list(dict.fromkeys(group))
    label = np.array([names.index(one) for one in group])
    times, events, at_risk = _table(t, d)
    if len(names) < 2 or len(label) != len(t) or not len(times):
        bounds.refuse(
            "group",
            "These times cannot be compared.",
            "There are fewer than two groups, or nothing happened to anybody.",
            "Wait for longer, or say that nothing happened.",
        )
    apart = np.zeros(len(names))
    variance = np.zeros((len(names), len(names)))
    seen, expected = np.zeros(len(names)), np.zeros(len(names))
    for when, deaths, risk in zip(times, events, at_risk, strict=True):
        share = np.bincount(label[t >= when], minlength=len(names)) / risk
        own = np.bincount(label[(t == when) & d], minlength=len(names))
        seen += own
        expected += deaths * share
        apart += own - deaths * share
        if risk > 1:
            scale = deaths * (risk - deaths) / (risk - 1)
            variance += scale * (np.diag(share) - np.outer(share, share))
    chi2 = float(apart @ np.linalg.pinv(variance, hermitian=True) @ apart)
    df = len(names) - 1
    return LogRank(
        chi2,
        df,
        float(special.chdtrc(df, chi2)),
        tuple(seen.tolist()),
        tuple(expected.tolist()),
        tuple(str(one) for one in names),
    )


def log_rank_scores(time: ArrayLike, happened: ArrayLike) -> Numbers:
    """Give each animal's part in the log-rank test: 1 or 0 less the hazard that it stood.

    Examples
    --------
    >>> log_rank_scores([1, 2], [True, True]).tolist()
    [0.5, -0.5]
    """
    t, d = _checked(time, happened)
    times, events, at_risk = _table(t, d)
    hazard = np.concatenate([[0.0], np.cumsum(events / at_risk)])
    return np.asarray(d - hazard[np.searchsorted(times, t, side="right")])


def tank_log_rank(
    time: ArrayLike,
    happened: ArrayLike,
    tank: Sequence[Hashable],
    arm: Sequence[Hashable],
    *,
    treatment: str,
    block: Sequence[Hashable] | None = None,
    seed: int = 1,
) -> Randomised:
    """Compare times to an event where the treatment was given to whole tanks.

    Parameters
    ----------
    time, happened
        Of each animal or egg, as in `survival`.
    tank, arm : sequence of hashable
        Of each animal or egg.
    treatment : str
    block : sequence of hashable, optional
        Of each animal or egg, where tanks were dealt within blocks.
    seed : int, default 1

    Returns
    -------
    Randomised
        The effect is a difference of mean scores: above 0 it happens sooner under the treatment.

    Notes
    -----
    Animals get their part in the log-rank test, each tank the mean of its animals, and tanks are
    dealt anew. Taking animals as units would make of one bad tank as many deaths.

    References
    ----------
    Mantel (1966), for the scores; Edgington and Onghena (2007), for the test.

    Examples
    --------
    >>> found = tank_log_rank([1, 2, 9, 8], [True] * 4, ["a", "b", "c", "d"], list("xxyy"),
    ...                       treatment="x")
    >>> found.effect > 0, found.arrangements
    (True, 6)
    """
    units = unit_means(log_rank_scores(time, happened), tank, arm)
    of_tank = dict(zip((str(one) for one in tank), block, strict=True)) if block else None
    blocks = [of_tank[name] for name in units.names] if of_tank else None
    return randomisation(Arms(units.in_arm(treatment), blocks), units.values, seed=seed)


def hatching_days(laid_on: ArrayLike, hatched_on: ArrayLike, seen_on: ArrayLike) -> Numbers:
    """Give days from laying to hatching, or to the last look where it had not hatched.

    Parameters
    ----------
    laid_on, hatched_on, seen_on : array_like of datetime64[D]
        `hatched_on` is NaT of what had not hatched by `seen_on`.

    Examples
    --------
    >>> hatching_days(["2026-01-01", "2026-01-01"], ["2026-06-01", "NaT"], ["2026-07-01"] * 2)
    array([151., 181.])
    """
    laid, hatched, seen = (
        np.asarray(one, dtype="datetime64[D]") for one in (laid_on, hatched_on, seen_on)
    )
    days = (np.where(np.isnat(hatched), seen, hatched) - laid) / np.timedelta64(1, "D")
    if np.isnan(days).any() or (days < 0).any():
        bounds.refuse(
            "hatched_on",
            "Incubation cannot be counted.",
            "An egg hatched, or was last seen, before it was laid, or a day is missing.",
            "Correct the days.",
        )
    return np.asarray(days)


def restricted_mean(found: Survival, until: float) -> float:
    """Give the mean time without the event up to a time: the area under the curve.

    Examples
    --------
    >>> restricted_mean(survival([3, 5, 5, 8], [True, True, False, True]), 8)
    6.0
    """
    bounds.above_zero("until", until, "time")
    times = np.minimum(np.concatenate([[0.0], found.times, [until]]), until)
    return float((np.diff(times) * np.concatenate([[1.0], found.share])).sum())


def greenwood_error(found: Survival, time: float) -> float:
    """Give Greenwood's standard error of the share just after a time.

    Examples
    --------
    >>> round(greenwood_error(survival([3, 5, 5, 8], [True, True, False, True]), 5), 4)
    0.25
    """
    place = int(np.searchsorted(found.times, time, side="right"))
    d, r = np.array(found.events[:place]), np.array(found.at_risk[:place])
    if (r == d).any():
        return 0.0
    return found.at(time) * sqrt(float((d / (r * (r - d))).sum()))
