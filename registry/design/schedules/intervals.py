"""Does an interval between scans suit a behaviour? Asked of pilot data that were continuous."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt
from statistics import fmean, stdev

import numpy as np
from numpy.typing import NDArray
from scipy import special

from registry.design import bounds

type Numbers = NDArray[np.float64]

OFFSETS = 200
"""Beginnings of the scans, spread evenly over one interval, that are all tried."""


@dataclass(frozen=True, slots=True)
class Watch:
    """One continuous watch of one animal.

    Parameters
    ----------
    animal : str
    length_s : float
        Seconds that it was watched, above 0.
    bouts : sequence of (float, float)
        Seconds at which the behaviour began and ended, in order, not overlapping.
    """

    animal: str
    length_s: float
    bouts: Sequence[tuple[float, float]]

    def __post_init__(self) -> None:
        bounds.above_zero("length_s", self.length_s, "length of the watch")
        last = 0.0
        for begin, end in self.bouts:
            if not last <= begin < end <= self.length_s:
                bounds.refuse(
                    "bouts",
                    "These bouts do not follow each other within the watch.",
                    f"One goes from {begin:g} to {end:g} s, after {last:g} s of a watch of "
                    f"{self.length_s:g} s.",
                    "Correct the times; a bout that overlaps another is one bout.",
                )
            last = end

    @property
    def share(self) -> float:
        """Share of the time that the behaviour took, 0 to 1."""
        return sum(end - begin for begin, end in self.bouts) / self.length_s


@dataclass(frozen=True, slots=True)
class Suits:
    """How well one interval shows the behaviour.

    Parameters
    ----------
    interval_s : float
    share : float
        True share of time, mean over animals, 0 to 1.
    bias : float
        Mean of what scans say less the true share.
    rmse : float
        Root mean squared error of the mean over animals.
    missed : float
        Share of bouts in which no scan falls, 0 to 1.
    half_width : float or None
        Half of the 95 per cent interval of the mean over animals; None of one animal.
    independent_s : float or None
        Above this distance successive scans may be taken as independent; None of fewer than two
        bouts.
    """

    interval_s: float
    share: float
    bias: float
    rmse: float
    missed: float
    half_width: float | None
    independent_s: float | None

    @property
    def is_fine_enough(self) -> bool:
        """Whether the error of scanning is small beside the spread between animals: a quarter."""
        return self.half_width is not None and self.rmse <= self.half_width / 4

    @property
    def said(self) -> str:
        """The judgement in words."""
        said = (
            f"Every {self.interval_s:g} s: bias {self.bias:+.3f}, error {self.rmse:.3f}, "
            f"{100 * self.missed:.0f} of 100 bouts missed."
        )
        if self.half_width is None:
            return f"{said} One animal gives no interval to hold that against."
        verdict = "small" if self.is_fine_enough else "not small"
        return (
            f"{said} That error is {verdict} beside the interval over animals, "
            f"± {self.half_width:.3f}."
        )


def interval_check(watches: Sequence[Watch], intervals_s: Sequence[float]) -> tuple[Suits, ...]:
    """Scan pilot data again at several intervals, from every beginning.

    Parameters
    ----------
    watches : sequence of Watch
        Continuous records, one or more.
    intervals_s : sequence of float
        Seconds between scans, each above 0 and no longer than the shortest watch.

    Returns
    -------
    tuple of Suits
        In the order of the intervals.

    Notes
    -----
    Two hundred beginnings spread over an interval are tried for each watch. A bout of d seconds is
    missed with a chance of max(0, 1 − d / T). Successive scans may be taken as independent beyond
    the mean length of a bout and 1.96 standard deviations of it.

    References
    ----------
    Altmann, J. (1974). Behaviour 49, 227–267. Bernstein, I. S. (1991). An empirical comparison of
    focal and ad libitum scoring. Animal Behaviour 42, 721–728 (rule read in a summary).

    Examples
    --------
    >>> watch = Watch("Moss", 600, [(0, 60), (300, 420)])
    >>> found = interval_check([watch], [30.0])[0]
    >>> round(found.share, 2), round(found.missed, 2), abs(found.bias) < 0.01
    (0.3, 0.0, True)
    """
    bounds.whole("watches", len(watches), 1, "number of watches")
    shortest = min(one.length_s for one in watches)
    lengths = [end - begin for one in watches for begin, end in one.bouts]
    rule = fmean(lengths) + 1.96 * stdev(lengths) if len(lengths) > 1 else None
    true = _by_animal(watches, [one.share for one in watches])
    half = None
    if len(true) > 1:
        quantile = float(special.stdtrit(len(true) - 1, 0.975))
        half = quantile * float(true.std(ddof=1)) / sqrt(len(true))
    found = []
    for interval in intervals_s:
        bounds.above_zero("intervals_s", interval, "interval")
        bounds.between("intervals_s", interval, 0, shortest, "interval in seconds", ends=True)
        scanned = np.array([_scanned(one, interval) for one in watches])
        errors = [_by_animal(watches, column).mean() - true.mean() for column in scanned.T]
        missed = fmean(max(0.0, 1 - one / interval) for one in lengths) if lengths else 0.0
        found.append(
            Suits(
                interval,
                float(true.mean()),
                fmean(errors),
                sqrt(fmean(one**2 for one in errors)),
                missed,
                half,
                rule,
            )
        )
    return tuple(found)


def _by_animal(watches: Sequence[Watch], values: Sequence[float] | Numbers) -> Numbers:
    names = [one.animal for one in watches]
    return np.array(
        [
            fmean(value for name, value in zip(names, values, strict=True) if name == animal)
            for animal in dict.fromkeys(names)
        ]
    )


def _scanned(watch: Watch, interval: float) -> Numbers:
    """Give the share of scans that meet the behaviour, for every beginning."""
    begins = (np.arange(OFFSETS) + 0.5) * interval / OFFSETS
    times = begins[:, None] + np.arange(int(watch.length_s // interval) + 1) * interval
    edges = np.array([edge for bout in watch.bouts for edge in bout])
    inside = np.searchsorted(edges, times, side="right") % 2 == 1
    seen = times < watch.length_s
    return np.asarray((inside & seen).sum(axis=1) / seen.sum(axis=1))


def independent_after(mean_s: float, sd_s: float) -> float:
    """Give the distance beyond which successive scans may be taken as independent.

    Parameters
    ----------
    mean_s, sd_s : float
        Mean and standard deviation of the length of a state, in seconds.

    References
    ----------
    Bernstein, I. S. (1991). Animal Behaviour 42, 721–728 (rule read in a summary).

    Examples
    --------
    >>> round(independent_after(40, 30), 1)
    98.8
    """
    bounds.above_zero("mean_s", mean_s, "mean length of a state")
    return mean_s + 1.96 * bounds.spread(sd_s, "sd_s")


def scan_variance(share: float, scans: int, every_s: float, on_s: float, off_s: float) -> float:
    """Give the variance of a share of scans when bouts make successive scans alike.

    Parameters
    ----------
    share : float
        True share of time, 0 to 1.
    scans : int
    every_s, on_s, off_s : float
        Interval, mean length of bouts and of the time between them, in seconds, above 0.

    Notes
    -----
    p (1 − p) / k (1 + 2 sum (1 − j / k) rho^j), rho = exp(−(1 / on + 1 / off) T), for bouts and
    gaps of exponential length.

    Examples
    --------
    >>> round(scan_variance(0.25, 60, 60, 60, 180), 6)
    0.005312
    """
    bounds.between("share", share, 0, 1, "share", ends=True)
    k = bounds.whole("scans", scans, 1, "number of scans")
    for field, value in (("every_s", every_s), ("on_s", on_s), ("off_s", off_s)):
        bounds.above_zero(field, value, "time in seconds")
    rho = exp(-(1 / on_s + 1 / off_s) * every_s)
    alike = sum((1 - j / k) * rho**j for j in range(1, k))
    return share * (1 - share) / k * (1 + 2 * alike)


def one_zero_share(share: float, interval_s: float, off_s: float) -> float:
    """Give the share of intervals in which a behaviour is seen at all: more than its time.

    Parameters
    ----------
    share : float
        True share of time, 0 to 1.
    interval_s : float
        Length of an interval, in seconds.
    off_s : float
        Mean time between bouts, in seconds, exponential.

    Examples
    --------
    >>> round(one_zero_share(0.25, 180, 180), 3)
    0.724
    """
    bounds.between("share", share, 0, 1, "share", ends=True)
    bounds.above_zero("interval_s", interval_s, "interval")
    bounds.above_zero("off_s", off_s, "time between bouts")
    return 1 - (1 - share) * exp(-interval_s / off_s)
