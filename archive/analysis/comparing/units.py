"""Tests at the level of the unit: tanks, or animals treated each by itself."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.columns import Flags
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Compared:
    """Two arms compared.

    Parameters
    ----------
    name : str
        Of the test.
    effect : float
        Treatment less control, on `scale`.
    scale : str
        What the effect is in: "outcome", or "log odds".
    t, df, p : float
    low, high : float
        Interval of the effect, on its scale.
    confidence : float
    units : tuple of (int, int)
        Units of the treatment and of the control.
    gaps : tuple of Gap
    """

    name: str
    effect: float
    scale: str
    t: float
    df: float
    p: float
    low: float
    high: float
    confidence: float
    units: tuple[int, int]
    gaps: tuple[Gap, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """One value for each unit.

    Parameters
    ----------
    names : tuple of str
    values : ndarray of float, shape (units,)
    arms : tuple of str
        Arm of each.
    animals : tuple of int
        Rows that its value is the mean of.
    gaps : tuple of Gap
    """

    names: tuple[str, ...]
    values: Numbers
    arms: tuple[str, ...]
    animals: tuple[int, ...]
    gaps: tuple[Gap, ...]

    def in_arm(self, arm: str) -> Flags:
        """Say which units are in an arm."""
        return np.array([one == arm for one in self.arms])


def unit_means(values: ArrayLike, units: Sequence[Hashable], arms: Sequence[Hashable]) -> Units:
    """Give one mean for each unit: animals of a tank are measurements of it.

    Parameters
    ----------
    values : array_like of float, shape (rows,)
        NaN where missing; left out and said.
    units, arms : sequence of hashable
        Tank and treatment of each row.

    Raises
    ------
    Unsound
        Where a unit stands in two arms: the treatment was then not given to the unit.

    Examples
    --------
    >>> found = unit_means([1, 3, 5, 5], ["t1", "t1", "t2", "t2"], ["x", "x", "y", "y"])
    >>> found.values.tolist(), found.arms, found.animals
    ([2.0, 5.0], ('x', 'y'), (2, 2))
    """
    y = np.asarray(values, dtype=float)
    there = np.isfinite(y) & np.array([one is not None and one != "" for one in units])
    gaps = []
    if not there.all():
        gaps.append(
            Gap(f"{int((~there).sum())} rows are left out.", "They have no value, or no unit.")
        )
    of_unit: dict[Hashable, Hashable] = {}
    for unit, arm, is_there in zip(units, arms, there, strict=True):
        if is_there and of_unit.setdefault(unit, arm) != arm:
            bounds.refuse(
                "arms",
                f"“{unit}” stands in two arms.",
                "Then the treatment was not given to the unit as a whole.",
                "Take what the treatment was given to as the unit, or compare within units.",
            )
    names = list(of_unit)
    place = {name: number for number, name in enumerate(names)}
    code = np.array([place[one] for one, is_there in zip(units, there, strict=True) if is_there])
    if not len(code):
        bounds.refuse("values", "Nothing can be compared.", "No row has a value.", "Look again.")
    sizes = np.bincount(code)
    gone = [str(one) for one in dict.fromkeys(units) if one not in place and one not in {None, ""}]
    if gone:
        gaps.append(Gap(f"Nothing is known of {few_named(gone)}.", "No row of theirs has a value."))
    return Units(
        tuple(str(one) for one in names),
        np.bincount(code, y[there]) / sizes,
        tuple(str(of_unit[one]) for one in names),
        tuple(sizes.tolist()),
        tuple(gaps),
    )


def _arms(treated: ArrayLike, control: ArrayLike) -> tuple[Numbers, Numbers]:
    found = tuple(np.asarray(one, dtype=float) for one in (treated, control))
    for name, values in zip(("treatment", "control"), found, strict=True):
        if len(values) < 2 or not np.isfinite(values).all():
            bounds.refuse(
                name,
                "This is no replication.",
                f"The {name} has {len(values)} units, or one without a value; two are needed to "
                "see how much units differ.",
                "Describe what was seen, and plan more units.",
            )
    return found[0], found[1]


def by_t(
    name: str,
    effect: float,
    error: float,
    df: float,
    units: tuple[int, int],
    *,
    confidence: float,
    scale: str = "outcome",
    gaps: Sequence[Gap] = (),
) -> Compared:
    """Close a test by t; where nothing varies it says so, and any difference at all is certain."""
    told = list(gaps)
    if error <= 1e-14 * max(1.0, abs(effect)):
        told.append(Gap("The spread is 0.", "Units of an arm do not differ; t says nothing."))
        t, p = float("nan"), float("nan")
    else:
        t = effect / error
        p = 2 * float(special.stdtr(df, -abs(t)))
    half = float(special.stdtrit(df, (1 + confidence) / 2)) * error
    return Compared(
        name, effect, scale, t, df, p, effect - half, effect + half, confidence, units, tuple(told)
    )


def unit_t(
    treated: ArrayLike, control: ArrayLike, *, equal_spread: bool = True, confidence: float = 0.95
) -> Compared:
    """Compare the means of two arms of units by t.

    Parameters
    ----------
    treated, control : array_like of float
        One value for each unit, two or more.
    equal_spread : bool, default True
        False: Welch's, for arms that differ in their spread.
    confidence : float, default 0.95

    References
    ----------
    Student (1908). Biometrika 6, 1–25. Welch, B. L. (1947). Biometrika 34, 28–35.

    Examples
    --------
    >>> found = unit_t([5.0, 6, 7, 8], [3, 4, 4, 5])
    >>> round(found.effect, 2), found.df, round(found.p, 4)
    (2.5, 6.0, 0.017)
    """
    one, other = _arms(treated, control)
    n, m = len(one), len(other)
    v, w = float(one.var(ddof=1)), float(other.var(ddof=1))
    effect = float(one.mean() - other.mean())
    if equal_spread:
        pooled = ((n - 1) * v + (m - 1) * w) / (n + m - 2)
        error, df = sqrt(pooled * (1 / n + 1 / m)), float(n + m - 2)
        return by_t("t test of unit means", effect, error, df, (n, m), confidence=confidence)
    error = sqrt(v / n + w / m)
    below = (v / n) ** 2 / (n - 1) + (w / m) ** 2 / (m - 1)
    df = error**4 / below if below > 0 else float(n + m - 2)
    return by_t("Welch’s t test of unit means", effect, error, df, (n, m), confidence=confidence)


def paired_t(treated: ArrayLike, control: ArrayLike, *, confidence: float = 0.95) -> Compared:
    """Compare two conditions of the same units, or of the two units of each pair, by t.

    Examples
    --------
    >>> found = paired_t([5.0, 6, 7, 9], [3, 5, 4, 5])
    >>> found.df, round(found.t, 3)
    (3.0, 3.873)
    """
    one, other = _arms(treated, control)
    if len(one) != len(other):
        bounds.refuse(
            "control",
            "These are no pairs.",
            f"There are {len(one)} and {len(other)} values.",
            "Give both values of each pair, and leave out pairs that lack one.",
        )
    apart = one - other
    n = len(apart)
    error = float(apart.std(ddof=1)) / sqrt(n)
    return by_t(
        "paired t test", float(apart.mean()), error, float(n - 1), (n, n), confidence=confidence
    )


@dataclass(frozen=True, slots=True)
class Among:
    """Several arms compared by the analysis of variance.

    Parameters
    ----------
    f, df, df_error, p : float
    spread : float
        Standard deviation within arms, in the outcome's own unit.
    """

    f: float
    df: int
    df_error: int
    p: float
    spread: float


def unit_f(*arms: ArrayLike) -> Among:
    """Compare the means of several arms of units by the analysis of variance.

    Parameters
    ----------
    *arms : array_like of float
        One value for each unit; more units than arms.

    Examples
    --------
    >>> found = unit_f([1.0, 2, 3], [2, 3, 4], [5, 6, 7])
    >>> round(found.f, 2), found.df, found.df_error, round(found.p, 4)
    (13.0, 2, 6, 0.0066)
    """
    found = [np.asarray(one, dtype=float) for one in arms]
    n, k = sum(len(one) for one in found), len(found)
    if k < 2 or n <= k or not all(len(one) and np.isfinite(one).all() for one in found):
        bounds.refuse(
            "arms",
            "These arms cannot be compared.",
            "Two arms or more are needed, and more units than arms, none without a value.",
            "Describe what was seen, and plan more units.",
        )
    middle = np.concatenate(found).mean()
    between = sum(len(one) * (one.mean() - middle) ** 2 for one in found) / (k - 1)
    within = sum(float(((one - one.mean()) ** 2).sum()) for one in found) / (n - k)
    if within <= 0:
        bounds.refuse("arms", "The spread is 0.", "Units of an arm do not differ.", "Look again.")
    f = float(between / within)
    return Among(f, k - 1, n - k, float(special.fdtrc(k - 1, n - k, f)), sqrt(within))
