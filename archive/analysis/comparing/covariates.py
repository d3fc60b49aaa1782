"""What goes with a covariate within animals: visitors, noise, temperature, time since feeding."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from archive.analysis.columns import rows_of
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Mean, mean_of
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Along:
    """How an outcome goes with a covariate within animals.

    Parameters
    ----------
    slope : Mean
        Over animals: change of the outcome for one unit of the covariate.
    p : float or None
        Of no mean slope, by t over animals; None of fewer than two.
    by_animal : tuple of (str, float)
    gaps : tuple of Gap
    """

    slope: Mean
    p: float | None
    by_animal: tuple[tuple[str, float], ...]
    gaps: tuple[Gap, ...]


def along(
    values: ArrayLike,
    covariate: ArrayLike,
    animal: Sequence[Hashable],
    *,
    confidence: float = 0.95,
) -> Along:
    """Give how an outcome goes with a covariate within animals, each animal once.

    Parameters
    ----------
    values, covariate : array_like of float, shape (sessions,)
        One of each for every session of an animal; rows that lack one are left out. A level of
        sound is averaged by energy first (`mean_level`), air and water apart.
    animal : sequence of hashable
    confidence : float, default 0.95

    Notes
    -----
    A line through the sessions of each animal; then a t interval over the animals' slopes. It says
    what goes together: visitors come on sunny days, and so does warmth.

    References
    ----------
    Lorch, R. F. and Myers, J. L. (1990). Regression analyses of repeated measures data in cognitive
    research. Journal of Experimental Psychology: Learning 16, 149–157 (a line for each animal).

    Examples
    --------
    >>> found = along([1, 2, 3, 2, 4, 6], [0, 1, 2, 0, 1, 2], ["a"] * 3 + ["b"] * 3)
    >>> found.slope.mean, found.by_animal
    (1.5, (('a', 1.0), ('b', 2.0)))
    """
    y, x = np.asarray(values, dtype=float), np.asarray(covariate, dtype=float)
    names = [str(one) if one is not None else "" for one in animal]
    if not len(y) == len(x) == len(names):
        bounds.refuse(
            "covariate",
            "The columns are not of one length.",
            f"{len(y)} values, {len(x)} of the covariate and {len(names)} animals were given.",
            "Give one of each for every session.",
        )
    there = np.isfinite(y) & np.isfinite(x) & np.array([one != "" for one in names], dtype=bool)
    gaps = []
    if not there.all():
        gaps.append(
            Gap(f"{int((~there).sum())} rows are left out.", "They lack a value or an animal.")
        )
    slopes, still = [], []
    for name, rows in rows_of(names).items():
        own = rows[there[rows]]
        if not len(own):
            continue
        apart = x[own] - x[own].mean()
        if len(apart) < 3 or not apart.any():
            still.append(str(name))
            continue
        slopes.append((str(name), float(apart @ y[own] / (apart @ apart))))
    if still:
        gaps.append(
            Gap(
                f"No slope of {few_named(still)}.",
                "They have fewer than three sessions, or the covariate did not change.",
            )
        )
    slope = mean_of([one for _, one in slopes], confidence=confidence)
    p = None
    if slope.sd:
        t = abs(slope.mean) / (slope.sd / slope.n**0.5)
        p = 2 * float(special.stdtr(slope.n - 1, -t))
    return Along(slope, p, tuple(slopes), tuple(gaps))
