"""Tests of ranks, their p by going through the arrangements, ties and all."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special, stats

from archive.analysis.comparing.arms import among_arms
from archive.analysis.comparing.drawing import Arms
from archive.analysis.comparing.parts import Dealt, looked_at
from archive.analysis.comparing.randomised import Randomised, Side, randomisation
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Ranked:
    """A test of ranks.

    Parameters
    ----------
    name : str
    statistic : float
        V, W, H, Friedman's chi-square or L.
    p : float
        From all arrangements, or from some drawn; ties are held as they are.
    approximate_p : float or None
        By the usual chi-square or normal distribution, for comparison with other programs.
    arrangements, drawn : int
        That could have been, and that were looked at where not all were.
    gaps : tuple of Gap
    """

    name: str
    statistic: float
    p: float
    approximate_p: float | None
    arrangements: int
    drawn: int
    gaps: tuple[Gap, ...] = ()


def signed_ranks(
    first: ArrayLike, second: ArrayLike, *, side: Side = Side.BOTH, seed: int = 1
) -> Ranked:
    """Test paired values by Wilcoxon's signed ranks.

    Parameters
    ----------
    first, second : array_like of float, shape (pairs,)
        The same animals under each of two conditions; pairs that do not differ are left out.
    side : Side, default BOTH
        GREATER: the first is the greater.
    seed : int, default 1

    Returns
    -------
    Ranked
        V, the sum of the ranks of differences above 0.

    References
    ----------
    Wilcoxon, F. (1945). Biometrics Bulletin 1, 80–83. Hollander, M. and Wolfe, D. A. (1973).

    Examples
    --------
    >>> signed_ranks([5, 7, 9, 6, 8], [4, 5, 6, 2, 3], side=Side.GREATER).p
    0.03125
    """
    apart = _numbers(first, "first") - _numbers(second, "second")
    gaps: list[Gap] = []
    if (apart == 0).any():
        gaps.append(
            Gap(f"{int((apart == 0).sum())} pairs are left out.", "They do not differ at all.")
        )
        apart = apart[apart != 0]
    if not len(apart):
        bounds.refuse(
            "first", "The pairs cannot be ranked.", "No pair differs.", "There is nothing to test."
        )
    ranks = stats.rankdata(np.abs(apart)) * np.sign(apart)
    # Each pair is a block of two: its treated value, and its control at 0.
    pairs = np.arange(len(ranks)).repeat(2)
    treated = np.tile([True, False], len(ranks))
    values = np.column_stack([ranks, -ranks]).ravel() / 2
    found = randomisation(Arms(treated, pairs.tolist()), values, side=side, seed=seed)
    return _ranked("Wilcoxon signed ranks", float(ranks[ranks > 0].sum()), found, gaps)


def rank_sum(
    first: ArrayLike, second: ArrayLike, *, side: Side = Side.BOTH, seed: int = 1
) -> Ranked:
    """Compare two groups of units by the sum of ranks of Wilcoxon, Mann and Whitney.

    Parameters
    ----------
    first, second : array_like of float
        One value for each unit.
    side : Side, default BOTH
        GREATER: the first is the greater.
    seed : int, default 1

    Returns
    -------
    Ranked
        W, the pairs of units in which the first is the greater; a tie counts a half.

    References
    ----------
    Mann, H. B. and Whitney, D. R. (1947). Annals of Mathematical Statistics 18, 50–60.

    Examples
    --------
    >>> found = rank_sum([4, 5, 6], [1, 2, 3])
    >>> found.statistic, found.p
    (9.0, 0.1)
    """
    one, other = _numbers(first, "first"), _numbers(second, "second")
    ranks = stats.rankdata(np.concatenate([one, other]))
    treated = np.arange(len(ranks)) < len(one)
    found = randomisation(Arms(treated), ranks, side=side, seed=seed)
    statistic = float(ranks[: len(one)].sum()) - len(one) * (len(one) + 1) / 2
    return _ranked("Wilcoxon–Mann–Whitney", statistic, found, [])


def _ranked(name: str, statistic: float, found: Randomised, gaps: list[Gap]) -> Ranked:
    return Ranked(
        name,
        statistic,
        found.p,
        None,
        found.arrangements,
        found.drawn,
        (*gaps, *found.gaps),
    )


def _numbers(values: ArrayLike, field: str) -> Numbers:
    found = np.asarray(values, dtype=float)
    if not len(found) or not np.isfinite(found).all():
        bounds.refuse(
            field,
            "These values cannot be ranked.",
            "There is none, or one is missing.",
            "Give one number for each unit.",
        )
    return found


def kruskal_wallis(values: ArrayLike, arms: Sequence[Hashable], *, seed: int = 1) -> Ranked:
    """Compare several groups of units by Kruskal and Wallis's H.

    Parameters
    ----------
    values : array_like of float, shape (units,)
    arms : sequence of hashable
    seed : int, default 1

    References
    ----------
    Kruskal, W. H. and Wallis, W. A. (1952). Journal of the American Statistical Association 47,
    583–621.

    Examples
    --------
    >>> found = kruskal_wallis([1, 2, 3, 4, 9, 8], ["a", "a", "b", "b", "c", "c"])
    >>> round(found.statistic, 3), round(found.p, 4)
    (4.571, 0.0667)
    """
    ranks = stats.rankdata(_numbers(values, "values"))
    n = len(ranks)
    found = among_arms(ranks, arms, seed=seed)
    label = np.array([found.arms.index(str(one)) for one in arms])
    sizes = np.bincount(label)
    means = np.bincount(label, ranks) / sizes
    spread = float(((ranks - ranks.mean()) ** 2).sum())
    if spread == 0:
        bounds.refuse("values", "Ranks say nothing here.", "All values are the same.", "Stop here.")
    h = (n - 1) * float((sizes * (means - ranks.mean()) ** 2).sum()) / spread
    approximate = float(special.chdtrc(len(sizes) - 1, h))
    return Ranked("Kruskal–Wallis", h, found.p, approximate, found.arrangements, found.drawn)


def friedman(table: ArrayLike, *, seed: int = 1) -> Ranked:
    """Compare several conditions within animals by Friedman's ranks.

    Parameters
    ----------
    table : array_like of float, shape (animals, conditions)
        No gaps.
    seed : int, default 1

    References
    ----------
    Friedman, M. (1937). Journal of the American Statistical Association 32, 675–701.

    Examples
    --------
    >>> found = friedman([[1, 2, 3], [1, 2, 3], [1, 2, 3], [1, 2, 3]])
    >>> found.statistic, round(found.p, 5)
    (8.0, 0.00463)
    """
    ranks = _rows_ranked(table)
    n, k = ranks.shape
    spread = float(((ranks - (k + 1) / 2) ** 2).sum())
    if spread == 0:
        bounds.refuse("table", "Ranks say nothing here.", "No animal differs.", "Stop here.")
    apart = ((ranks.sum(axis=0) - n * (k + 1) / 2) ** 2).sum()
    statistic = (k - 1) * float(apart) / spread
    found = among_arms(
        ranks.ravel(), list(range(k)) * n, block=np.arange(n).repeat(k).tolist(), seed=seed
    )
    approximate = float(special.chdtrc(k - 1, statistic))
    return Ranked("Friedman", statistic, found.p, approximate, found.arrangements, found.drawn)


def _rows_ranked(table: ArrayLike) -> Numbers:
    found = np.asarray(table, dtype=float)
    if found.ndim != 2 or min(found.shape) < 2 or not np.isfinite(found).all():
        bounds.refuse(
            "table",
            "The conditions cannot be ranked within animals.",
            "Two animals and two conditions are needed at the least, and no gaps.",
            "Leave out animals that lack a condition, and say so.",
        )
    return np.asarray(stats.rankdata(found, axis=1))


def page(table: ArrayLike, *, seed: int = 1) -> Ranked:
    """Test a trend over ordered conditions within animals by Page's L.

    Parameters
    ----------
    table : array_like of float, shape (animals, conditions)
        Conditions in the order in which values are foretold to rise.
    seed : int, default 1

    Notes
    -----
    One-sided, for the order was foretold. `approximate_p` is the p of the published tables, which
    take ranks as untied; None where the arrangements were too many to go through.

    References
    ----------
    Page, E. B. (1963). Journal of the American Statistical Association 58, 216–230. van de Wiel,
    M. A. and Di Bucchianico, A. (2001). Journal of Statistical Planning and Inference 96.

    Examples
    --------
    >>> found = page([[1, 2, 3], [1, 2, 3]])
    >>> found.statistic, round(found.p, 4)
    (28.0, 0.0278)
    """
    ranks = _rows_ranked(table)
    n, k = ranks.shape
    order = np.arange(1, k + 1.0)
    statistic = float((ranks * order).sum())
    parts = [Dealt((row[:, None] * order)[:, :, None], np.arange(k)) for row in ranks]
    looked = looked_at(parts, seed=seed)
    p = float((looked.statistics[:, 0] >= statistic - 1e-9).mean())
    approximate = untied_page(statistic, n, k)
    return Ranked("Page", statistic, p, approximate, looked.number, looked.drawn)


def untied_page(statistic: float, animals: int, conditions: int) -> float | None:
    """Give the chance that L of untied ranks is as large: exactly, by folding animal into animal.

    Returns
    -------
    float or None
        None of more than eight conditions, whose orders are too many.

    Notes
    -----
    Halves, which only ties make, are rounded down: the cautious way.

    Examples
    --------
    >>> round(untied_page(28, 2, 3), 4)
    0.0278
    """
    if conditions > 8:
        return None
    order = np.arange(1, conditions + 1.0)
    one = Dealt((order[:, None] * order)[:, :, None], np.arange(conditions)).every()[:, 0]
    single = np.bincount(np.rint(one).astype(int)) / len(one)
    whole = np.ones(1)
    for _ in range(animals):
        whole = np.convolve(whole, single)
    return float(whole[max(0, int(statistic + 1e-9)) :].sum())
