"""Two observers: percentage of agreement, Cohen's kappa and weighted kappa, with coverage."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.bounded import Bounded, around, jackknifed
from archive.analysis.columns import Coded, same_length
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.animals.hatching import Share, wilson
from registry.design import bounds

ENOUGH = 10
"""Examples of a behaviour below which its agreement is erratic (animalbehaviorreliability.com)."""


@dataclass(frozen=True, slots=True)
class Covered:
    """How much of an ethogram was put to the test.

    Parameters
    ----------
    of : int
        Behaviours of the ethogram.
    seen : int
        Those that an observer named at the least once.
    never : tuple of str
        Those that neither named.
    few : tuple of str
        Those with fewer than ten examples, and one at the least.

    Notes
    -----
    In 645 live tests of 163 observers a quarter of the ethogram occurred (Wark et al. 2021).
    """

    of: int
    seen: int
    never: tuple[str, ...]
    few: tuple[str, ...]

    @property
    def share(self) -> float:
        """Share of the ethogram that was seen, 0 to 1."""
        return self.seen / self.of


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two observers agree on the same moments.

    Parameters
    ----------
    n : int
        Moments that both coded.
    same : Share
        Share of them coded alike, with Wilson's interval, 0 to 1.
    by_chance : float
        Share that would be alike by chance, 0 to 1.
    kappa : Bounded or None
        −1 to 1; None where both used one code alone, so that chance explains all.
    weighted : Bounded or None
        With the weights that were given.
    covered : Covered
    gaps : tuple of Gap
    """

    n: int
    same: Share
    by_chance: float
    kappa: Bounded | None
    weighted: Bounded | None
    covered: Covered
    gaps: tuple[Gap, ...]


def band(kappa: float) -> str:
    """Give the usual word for a kappa.

    References
    ----------
    Landis, J. R. and Koch, G. G. (1977). Biometrics 33, 159–174 (bands from memory).

    Examples
    --------
    >>> band(0.72)
    'substantial'
    """
    words = ((0.8, "almost perfect"), (0.6, "substantial"), (0.4, "moderate"), (0.2, "fair"))
    return next(
        (word for above, word in words if kappa > above), "slight" if kappa >= 0 else "poor"
    )


def stepped(categories: int, *, squared: bool = False) -> Numbers:
    """Give weights of disagreement that grow with the distance of ordered codes.

    Examples
    --------
    >>> stepped(3).tolist()
    [[0.0, 1.0, 2.0], [1.0, 0.0, 1.0], [2.0, 1.0, 0.0]]
    """
    apart = np.abs(np.subtract.outer(np.arange(categories), np.arange(categories))).astype(float)
    return apart**2 if squared else apart


def kappa_of(table: ArrayLike, disagreement: ArrayLike | None = None) -> Numbers:
    """Give kappa of one or many tables.

    Parameters
    ----------
    table : array_like of float, shape (..., k, k)
        Counts: rows are the first observer's codes, columns the second's.
    disagreement : array_like of float, shape (k, k), optional
        0 on the diagonal, above 0 elsewhere; 1 everywhere else where left out.

    Returns
    -------
    ndarray of float, shape (...)
        NaN where nothing is left for chance to explain.

    References
    ----------
    Cohen, J. (1960). Educational and Psychological Measurement 20, 37–46. Cohen, J. (1968).
    Psychological Bulletin 70, 213–220.

    Examples
    --------
    >>> round(float(kappa_of([[88, 10, 2], [14, 40, 6], [18, 10, 12]])), 3)
    0.492
    """
    counts = np.asarray(table, dtype=float)
    weights = _weights(counts.shape[-1], disagreement)
    n = counts.sum(axis=(-2, -1), keepdims=True)
    share = counts / np.where(n > 0, n, np.nan)
    chance = share.sum(axis=-1)[..., :, None] * share.sum(axis=-2)[..., None, :]
    seen = (weights * share).sum(axis=(-2, -1))
    expected = (weights * chance).sum(axis=(-2, -1))
    return np.asarray(1 - seen / np.where(expected > 1e-15, expected, np.nan))


def _weights(k: int, disagreement: ArrayLike | None) -> Numbers:
    weights = 1 - np.eye(k) if disagreement is None else np.asarray(disagreement, dtype=float)
    if weights.shape != (k, k) or np.diag(weights).any() or (weights < 0).any():
        bounds.refuse(
            "disagreement",
            "These weights do not fit the codes.",
            f"There are {k} codes; each needs a weight of 0 with itself and none below 0.",
            "Give a square table of how bad each confusion is.",
        )
    return weights


def kappa_error(table: ArrayLike, disagreement: ArrayLike | None = None) -> float:
    """Give the large-sample standard error of kappa.

    Notes
    -----
    It takes moments as independent of each other, which successive scans are not.

    References
    ----------
    Fleiss, J. L., Cohen, J. and Everitt, B. S. (1969). Large sample standard errors of kappa and
    weighted kappa. Psychological Bulletin 72, 323–327, eq. 8 and 13.

    Examples
    --------
    >>> round(kappa_error([[106, 10, 4], [22, 28, 10], [2, 12, 6]]), 3)
    0.054
    """
    counts = np.asarray(table, dtype=float)
    apart = _weights(len(counts), disagreement)
    alike = 1 - apart / apart.max()
    share = counts / counts.sum()
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    chance = float((alike * np.outer(rows, columns)).sum())
    seen = float((alike * share).sum())
    kappa = (seen - chance) / (1 - chance)
    of_row, of_column = alike @ columns, rows @ alike
    inner = alike - (of_row[:, None] + of_column[None, :]) * (1 - kappa)
    variance = (share * inner**2).sum() - (kappa - chance * (1 - kappa)) ** 2
    return sqrt(max(0.0, float(variance)) / counts.sum()) / (1 - chance)


def agreement(
    first: Coded,
    second: Coded,
    ethogram: Sequence[str],
    *,
    session: Coded | None = None,
    disagreement: ArrayLike | None = None,
    confidence: float = 0.95,
) -> Agreement:
    """Give how two observers agree on the same moments.

    Parameters
    ----------
    first, second : Coded
        What each coded, moment by moment.
    ethogram : sequence of str
        Every code, in order where weights need one.
    session : Coded, optional
        Session of each moment: intervals then come from leaving sessions out in turn. Without it
        they take moments as independent, and are too narrow where scans follow each other closely.
    disagreement : array_like of float, shape (k, k), optional
        Weights for the weighted kappa, in the order of the ethogram; `stepped` makes some.
    confidence : float, default 0.95

    Examples
    --------
    >>> from archive.analysis.columns import coded
    >>> one, other = coded("aabbab"), coded("aabbbb")
    >>> found = agreement(one, other, ["a", "b", "c"])
    >>> round(found.same.value, 3), round(found.kappa.value, 3), round(found.covered.share, 3)
    (0.833, 0.667, 0.667)
    """
    same_length(first=first, second=second)
    if session is not None:
        same_length(first=first, session=session)
    gaps: list[Gap] = []
    pair = np.stack([_placed(one, ethogram, gaps) for one in (first, second)])
    both = (pair >= 0).all(axis=0)
    if not both.any():
        bounds.refuse(
            "second",
            "No agreement can be computed.",
            "There is no moment that both observers coded by this ethogram.",
            "Let both code the same moments.",
        )
    if not both.all():
        gaps.append(Gap(f"{int((~both).sum())} moments are left out.", "One observer has no code."))
    k = len(ethogram)
    group = np.zeros(both.sum(), dtype=int)
    if session is not None:
        _, group = np.unique(session.codes[both], return_inverse=True)
    cell = (group * k + pair[0][both]) * k + pair[1][both]
    tables = np.bincount(cell, minlength=(group.max() + 1) * k * k).reshape(-1, k, k).astype(float)
    table = tables.sum(axis=0)
    share = table / table.sum()
    kappa = _bounded(tables, None, session is not None, confidence)
    if kappa is None:
        gaps.append(
            Gap(
                "Kappa cannot be computed.",
                "Both used one code alone, so chance explains all agreement.",
            )
        )
    covered = _covered(table, ethogram)
    if covered.few:
        gaps.append(
            Gap(
                f"Agreement on {few_named(list(covered.few))} is erratic.",
                f"Each has fewer than {ENOUGH} examples.",
            )
        )
    return Agreement(
        int(table.sum()),
        wilson(int(np.trace(table)), int(table.sum()), confidence=confidence),
        float(share.sum(axis=1) @ share.sum(axis=0)),
        kappa,
        None
        if disagreement is None
        else _bounded(tables, disagreement, session is not None, confidence),
        covered,
        tuple(gaps),
    )


def _placed(column: Coded, ethogram: Sequence[str], gaps: list[Gap]) -> Numbers:
    places = {code: place for place, code in enumerate(ethogram)}
    strange = [word for word in column.words if word not in places]
    if strange:
        gaps.append(Gap("Some codes are left out.", f"The ethogram has no {few_named(strange)}."))
    return np.array([*(places.get(word, -1) for word in column.words), -1])[column.codes]


def _bounded(
    tables: Numbers, disagreement: ArrayLike | None, by_session: bool, confidence: float
) -> Bounded | None:
    table = tables.sum(axis=0)
    value = float(kappa_of(table, disagreement))
    if np.isnan(value):
        return None
    if by_session:
        without = kappa_of(table - tables, disagreement)
        return jackknifed(
            value, without, of="sessions", confidence=confidence, least=-1.0, most=1.0
        )
    return around(
        value,
        kappa_error(table, disagreement),
        confidence=confidence,
        how="large sample, moments taken as independent",
        least=-1.0,
        most=1.0,
    )


def _covered(table: Numbers, ethogram: Sequence[str]) -> Covered:
    # A moment that either named so is an example; one that both named so is one, not two.
    examples = table.sum(axis=0) + table.sum(axis=1) - np.diag(table)
    never = tuple(code for code, n in zip(ethogram, examples, strict=True) if n == 0)
    few = tuple(code for code, n in zip(ethogram, examples, strict=True) if 0 < n < ENOUGH)
    return Covered(len(ethogram), len(ethogram) - len(never), never, few)
