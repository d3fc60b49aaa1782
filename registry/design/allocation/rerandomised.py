"""Rerandomisation: drawn again until what is known beforehand is balanced, and analysed so."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from registry.design import bounds
from registry.design.allocation.base import Allocation, Place, asked, few_units
from registry.design.draws import Stream
from registry.design.phases import COUNTED, Reach, reach

type Numbers = NDArray[np.float64]
type Flags = NDArray[np.bool_]

TRIES = 1_000_000
_DIGITS = 9
"""Distances are rounded so that another machine's last digit never changes what is accepted."""


def variance_reduction(accepted: float, covariates: int) -> float:
    """Give by how many per cent rerandomisation narrows a covariate's difference, in variance.

    Parameters
    ----------
    accepted : float
        Share of allocations that is accepted, above 0 and below 1.
    covariates : int
        1 or more.

    Notes
    -----
    100 (1 − v), v = P(chi² of k + 2 ≤ a) / P(chi² of k ≤ a), where a is what that share accepts.

    References
    ----------
    Morgan, K. L. and Rubin, D. B. (2012). Rerandomization to improve covariate balance in
    experiments. Annals of Statistics 40, 1263–1282.

    Examples
    --------
    >>> [round(variance_reduction(0.001, k), 1) for k in (2, 5, 10, 20)]
    [99.9, 97.0, 87.9, 73.8]
    """
    bounds.between("accepted", accepted, 0, 1, "share that is accepted")
    bounds.whole("covariates", covariates, 1, "number of covariates")
    limit = special.chdtri(covariates, 1 - accepted)
    return 100 * (1 - float(special.chdtr(covariates + 2, limit)) / accepted)


@dataclass(frozen=True, slots=True)
class Balance:
    """What is known of each unit beforehand, and how far apart two arms may be in it.

    Parameters
    ----------
    covariates : array of float, shape (units, covariates)
        In the order of the units.
    limit : float
        Largest Mahalanobis distance that is accepted.
    first : int
        Units of the first arm.
    """

    covariates: Numbers
    limit: float
    first: int

    def distances(self, arms: Flags) -> Numbers:
        """Give the Mahalanobis distance of each allocation.

        Parameters
        ----------
        arms : array of bool, shape (allocations, units)
            True where a unit is in the first arm.
        """
        n = len(self.covariates)
        inverse = np.linalg.pinv(np.atleast_2d(np.cov(self.covariates, rowvar=False)))
        sums = arms @ self.covariates
        others = self.covariates.sum(axis=0) - sums
        apart = sums / self.first - others / (n - self.first)
        scale = self.first * (n - self.first) / n
        found = scale * np.einsum("ij,jk,ik->i", apart, inverse, apart)
        return np.asarray(np.round(found, _DIGITS))

    def accepted(self) -> Flags:
        """List every accepted allocation, if all can be listed.

        Raises
        ------
        Unsound
            Where there are too many to list.
        """
        n = len(self.covariates)
        count = comb(n, self.first)
        if count > COUNTED:
            bounds.refuse(
                "units",
                "The allocations are too many to list.",
                f"There are {count:,}; up to {COUNTED:,} are listed.",
                "Draw from the accepted ones instead.",
            )
        every = np.zeros((count, n), dtype=bool)
        for row, chosen in enumerate(combinations(range(n), self.first)):
            every[row, list(chosen)] = True
        return np.asarray(every[self.distances(every) <= self.limit])


def balance_of(covariates: ArrayLike, *, first: int | None = None, accept: float = 0.1) -> Balance:
    """Say what is accepted: the share of allocations with the least distance.

    Parameters
    ----------
    covariates : array_like of float, shape (units, covariates) or (units,)
    first : int, optional
        Units of the first arm; half by default.
    accept : float, default 0.1
        Share of allocations that is accepted, above 0 and below 1.

    Notes
    -----
    The limit is the chi-square quantile of that share. With few units the share that is truly
    accepted is another: `Balance.accepted` counts it.

    Examples
    --------
    >>> round(balance_of([[1.0], [2.0], [3.0], [4.0]], accept=0.5).limit, 3)
    0.455
    """
    table = np.array(covariates, dtype=float)
    table = table[:, None] if table.ndim == 1 else table
    if table.ndim != 2 or not table.size or not np.isfinite(table).all():
        bounds.refuse(
            "covariates",
            "The covariates must be a table of numbers.",
            "A value is missing, or is no number.",
            "Give one row for each unit, with a number for each covariate.",
        )
    if (table.max(axis=0) == table.min(axis=0)).any():
        bounds.refuse(
            "covariates",
            "A covariate that is the same in all units balances nothing.",
            "One column holds a single value.",
            "Leave it out.",
        )
    bounds.between("accept", accept, 0, 1, "share that is accepted")
    half = len(table) // 2 if first is None else first
    bounds.between("first", half, 1, len(table) - 1, "number in the first arm", ends=True)
    return Balance(table, float(special.chdtri(table.shape[1], 1 - accept)), half)


def accepted_reach(balance: Balance, *, alpha: float = 0.05) -> Reach:
    """Give the smallest p of the accepted allocations, which alone are permuted in the analysis.

    Notes
    -----
    Where both arms are equal an allocation and its mirror image are accepted together.

    Examples
    --------
    >>> accepted_reach(balance_of([1.0, 2, 3, 4, 5, 6, 7, 8], accept=0.3)).assignments
    22
    """
    mirrored = 2 * balance.first == len(balance.covariates)
    found = len(balance.accepted())
    if not found:
        bounds.refuse(
            "accept",
            "No allocation is balanced enough.",
            "With so few units none has so small a distance.",
            "Accept a larger share.",
        )
    return reach(found, alpha=alpha, mirrored=mirrored)


def rerandomised(
    units: Mapping[str, Sequence[float]],
    arms: Sequence[str],
    stream: Stream,
    *,
    accept: float = 0.1,
    alpha: float = 0.05,
) -> Allocation:
    """Draw two arms again and again until what is known of the units is balanced.

    Parameters
    ----------
    units : mapping of str to sequence of float
        Unit to its covariates, as many for each.
    arms : sequence of str
        Two treatments; the first gets the smaller half.
    stream : Stream
    accept : float, default 0.1
        Share of allocations that is accepted.
    alpha : float, default 0.05

    Raises
    ------
    Unsound
        Where the accepted allocations are so few that no outcome could be significant, or none is
        found.

    Examples
    --------
    >>> masses = {f"T{n}": [float(n * n)] for n in range(1, 13)}
    >>> rerandomised(masses, ["still", "brisk"], Stream(bytes(32))).counts
    {'brisk': 6, 'still': 6}
    """
    found, treatments = asked(units, arms)
    if len(treatments) != 2:
        bounds.refuse(
            "arms",
            "Rerandomisation is for two treatments.",
            f"{len(treatments)} were given.",
            "Take blocks or minimisation for more.",
        )
    widths = {len(one) for one in units.values()}
    if len(widths) != 1:
        bounds.refuse(
            "units",
            "Every unit needs as many covariates.",
            "Some have more than others.",
            "Give each unit a number for each covariate.",
        )
    balance = balance_of(np.array([list(one) for one in units.values()]), accept=accept)
    notes = [
        "The analysis permutes within the accepted allocations alone.",
        f"Accepted is a Mahalanobis distance of {balance.limit:.4g} at the most.",
    ]
    if comb(len(found), balance.first) <= COUNTED:
        notes.append(_within_reach(balance, alpha))
    first = _draw(found, balance, stream)
    places = tuple(Place(one, treatments[0 if one in first else 1]) for one in found)
    counts = Allocation("", places, "").counts
    return Allocation("rerandomisation", places, stream.commitment, (*notes, *few_units(counts)))


def _within_reach(balance: Balance, alpha: float) -> str:
    counted = accepted_reach(balance, alpha=alpha)
    if not counted.is_confirmatory:
        bounds.refuse(
            "accept",
            "So few allocations are accepted that no outcome could be significant.",
            counted.said,
            "Accept a larger share, or take more units.",
        )
    return counted.said


def _draw(units: Sequence[str], balance: Balance, stream: Stream) -> set[str]:
    for _ in range(TRIES):
        chosen = set(stream.shuffled(units)[: balance.first])
        row = np.array([[one in chosen for one in units]])
        if balance.distances(row)[0] <= balance.limit:
            return chosen
    return bounds.refuse(
        "accept",
        "No balanced allocation was found.",
        f"{TRIES:,} were drawn.",
        "Accept a larger share.",
    )


def restricted_p(values: ArrayLike, first: ArrayLike, accepted: Flags) -> float:
    """Give the two-sided p of a difference of means, permuted within the accepted allocations.

    Parameters
    ----------
    values : array_like of float, shape (units,)
        Outcomes in the order of the units.
    first : array_like of bool, shape (units,)
        Who was in the first arm.
    accepted : array of bool, shape (allocations, units)
        What could have been drawn, the drawn one among them.

    References
    ----------
    Morgan and Rubin (2012), section 2.

    Examples
    --------
    >>> every = balance_of([1.0, 2, 3, 4, 5, 6, 7, 8], accept=0.999).accepted()
    >>> round(restricted_p([1, 9, 8, 2, 3, 7, 6, 1], [0, 1, 1, 0, 0, 1, 1, 0], every), 3)
    0.029
    """
    outcome, chosen = np.asarray(values, dtype=float), np.asarray(first, dtype=bool)
    if not (accepted == chosen).all(axis=1).any():
        bounds.refuse(
            "first",
            "This allocation is not among the accepted ones.",
            "It could not have been drawn, so it cannot be set against them.",
            "Give the allocation as it was drawn, and the same covariates.",
        )

    def apart(rows: Flags) -> Numbers:
        inside = rows.sum(axis=1)
        sums = rows @ outcome
        others = (outcome.sum() - sums) / (len(outcome) - inside)
        return np.asarray(np.abs(sums / inside - others))

    seen = apart(chosen[None, :])[0]
    return float(np.mean(apart(accepted) >= seen - 1e-12 * max(1.0, seen)))
