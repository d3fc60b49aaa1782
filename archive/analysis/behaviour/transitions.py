"""What follows what: transitions between behaviours, against what chance alone would give."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.columns import Flags
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds

ROUNDS = 10_000


@dataclass(frozen=True, slots=True)
class Step:
    """One transition.

    Parameters
    ----------
    first, then : str
    seen : int
    expected : float
        Where what follows does not depend on what went before.
    residual : float
        Adjusted residual: beyond ±2 it is seldom chance, beyond ±3 hardly ever, for one transition
        looked at alone. NaN where it cannot be computed.
    """

    first: str
    then: str
    seen: int
    expected: float
    residual: float


@dataclass(frozen=True, slots=True)
class Transitions:
    """All transitions.

    Parameters
    ----------
    steps : tuple of Step
    chi2, df, p : float
        Pearson's test of independence, or of quasi-independence.
    gaps : tuple of Gap
    """

    steps: tuple[Step, ...]
    chi2: float
    df: int
    p: float
    gaps: tuple[Gap, ...]


def counted(
    sequences: Sequence[Sequence[str]], behaviours: Sequence[str], *, repeats: bool
) -> Numbers:
    """Count what follows what within each sequence, never from one to the next.

    Parameters
    ----------
    sequences : sequence of sequence of str
        One for each session of an animal, in order of time.
    behaviours : sequence of str
        What is not among them breaks the sequence, as being out of sight does.
    repeats : bool
        Whether a behaviour may follow itself (scans, events); where not, repeats are one bout.

    Examples
    --------
    >>> counted([["a", "b", "a"], ["a", "x", "b"]], ["a", "b"], repeats=False).tolist()
    [[0.0, 1.0], [1.0, 0.0]]
    """
    places = {name: place for place, name in enumerate(behaviours)}
    table = np.zeros((len(places), len(places)))
    for sequence in sequences:
        codes = np.array([places.get(name, -1) for name in sequence], dtype=int)
        both = (codes[:-1] >= 0) & (codes[1:] >= 0)
        np.add.at(table, (codes[:-1][both], codes[1:][both]), 1)
    if not repeats:
        np.fill_diagonal(table, 0)
    return table


def transitions(
    table: ArrayLike, behaviours: Sequence[str], *, repeats: bool = True
) -> Transitions:
    """Hold a table of transitions against independence.

    Parameters
    ----------
    table : array_like of int, shape (k, m)
        Rows are what went before, columns what followed.
    behaviours : sequence of str
        Names of the rows, and of the columns where these are as many.
    repeats : bool, default True
        False where nothing can follow itself: the diagonal then cannot be, and what is expected is
        found by fitting the margins again and again.

    Notes
    -----
    Residuals are (seen − expected) / sqrt(expected (1 − h)), h the leverage of the cell in the
    log-linear model; without empty cells by design they are Haberman's. Transitions of one animal
    are not independent of each other, nor is one animal all animals: describe with them, and test
    by animal.

    References
    ----------
    Haberman, S. J. (1973). The analysis of residuals in cross-classified tables. Biometrics 29,
    205–220. Bakeman, R. and Quera, V. (2011). Sequential Analysis and Observational Methods.
    Agresti, A. (2007). An Introduction to Categorical Data Analysis, section 2.4.5.

    Examples
    --------
    >>> party = transitions([[762, 327, 468], [484, 239, 477]], ["women", "men"])
    >>> [round(one.residual, 2) for one in party.steps][:2]
    [4.5, 0.7]
    """
    seen = np.asarray(table, dtype=float)
    gaps: list[Gap] = []
    if seen.ndim != 2 or (seen < 0).any() or seen.sum() <= 0:
        bounds.refuse(
            "table",
            "No transitions can be judged.",
            "The table holds no counts, or one below 0.",
            "Give how often each behaviour followed each.",
        )
    allowed = np.ones(seen.shape, dtype=bool)
    if not repeats:
        if seen.shape[0] != seen.shape[1] or np.diag(seen).any():
            bounds.refuse(
                "repeats",
                "A behaviour follows itself in this table.",
                "It was said that none can.",
                "Join repeats to one bout, or allow repeats.",
            )
        np.fill_diagonal(allowed, False)
    expected = _fitted(seen, allowed)
    residual = _residuals(seen, expected, allowed)
    used = allowed & (expected > 0)
    chi2 = float(((seen - expected)[used] ** 2 / expected[used]).sum())
    rows, columns = int(used.any(axis=1).sum()), int(used.any(axis=0).sum())
    df = int(used.sum()) - rows - columns + 1
    if df < 1:
        gaps.append(
            Gap("Independence cannot be tested.", "The table has no degree of freedom left.")
        )
    if (expected[used] < 5).mean() > 0.2:
        gaps.append(
            Gap(
                "The p of the whole table is not to be trusted.",
                "More than a fifth of the expected counts are below 5 (common practice, no "
                "source).",
            )
        )
    then = behaviours if len(behaviours) == seen.shape[1] else range(1, seen.shape[1] + 1)
    steps = tuple(
        Step(
            str(behaviours[row]),
            str(then[column]),
            int(seen[row, column]),
            float(expected[row, column]),
            float(residual[row, column]),
        )
        for row, column in np.argwhere(allowed)
    )
    p = float(special.chdtrc(df, chi2)) if df > 0 else float("nan")
    return Transitions(steps, chi2, max(df, 0), p, tuple(gaps))


def _fitted(seen: Numbers, allowed: Flags) -> Numbers:
    """Fit both margins in turn, from a table of ones where something may stand."""
    fitted = allowed.astype(float)
    rows, columns = seen.sum(axis=1), seen.sum(axis=0)
    for _ in range(ROUNDS):
        before = fitted
        fitted = fitted * _ratio(rows, fitted.sum(axis=1))[:, None]
        fitted = fitted * _ratio(columns, fitted.sum(axis=0))[None, :]
        if np.abs(fitted - before).max() < 1e-11 * max(1.0, float(seen.sum())):
            break
    return fitted


def _ratio(wanted: Numbers, there: Numbers) -> Numbers:
    return np.asarray(wanted / np.where(there > 0, there, 1.0))


def _residuals(seen: Numbers, expected: Numbers, allowed: Flags) -> Numbers:
    """Give the adjusted residuals, from the leverage of each cell in the log-linear model."""
    cells = np.argwhere(allowed & (expected > 0))
    out = np.full(seen.shape, np.nan)
    if not len(cells):
        return out
    design = np.zeros((len(cells), sum(seen.shape)))
    design[np.arange(len(cells)), cells[:, 0]] = 1
    design[np.arange(len(cells)), seen.shape[0] + cells[:, 1]] = 1
    weight = expected[cells[:, 0], cells[:, 1]]
    inverse = np.linalg.pinv(design.T @ (weight[:, None] * design), hermitian=True)
    leverage = weight * np.einsum("ij,jk,ik->i", design, inverse, design)
    left = weight * (1 - leverage)
    is_free = left > 1e-9 * weight
    apart = (seen - expected)[cells[:, 0], cells[:, 1]]
    values = np.where(is_free, apart / np.sqrt(np.where(is_free, left, 1.0)), np.nan)
    out[cells[:, 0], cells[:, 1]] = values
    return out
