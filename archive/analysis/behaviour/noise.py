"""Levels of sound: averaged by energy, and never in air and water together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from archive.analysis.means import Numbers
from registry.design import bounds

REFERENCES = {"air": 20.0, "water": 1.0}
"""Usual reference pressures in micropascal (ISO 1683; ISO 18405, both from memory)."""


@dataclass(frozen=True, slots=True)
class Level:
    """A level of sound over some time.

    Parameters
    ----------
    db : float
        Equivalent level in decibels.
    medium : {"air", "water"}
    duration_s : float, default 1
        Seconds that it stands for, above 0.
    weighting : str, default ""
        Of frequencies, as "A"; or the band.
    reference_upa : float, optional
        Reference pressure in micropascal; the medium's usual one where left out.
    """

    db: float
    medium: str
    duration_s: float = 1.0
    weighting: str = ""
    reference_upa: float | None = None

    @property
    def kind(self) -> tuple[str, str, float]:
        """What must be the same for two levels to be averaged."""
        usual = REFERENCES.get(self.medium)
        if usual is None:
            bounds.refuse(
                "medium",
                "A level of sound needs its medium.",
                f"It was given as “{self.medium}”.",
                "Say air or water: the same number means quite another sound in each.",
            )
        return self.medium, self.weighting, self.reference_upa or usual


def mean_level(levels: Sequence[Level]) -> float:
    """Average levels by their energy.

    Parameters
    ----------
    levels : sequence of Level
        Of one medium, weighting and reference.

    Returns
    -------
    float
        Decibels.

    Raises
    ------
    Unsound
        Where none was given, or they are not of one kind.

    Notes
    -----
    10 log10 of the mean of 10^(L/10), weighted by duration: ISO 1996-1, L_eq (from memory).

    Examples
    --------
    >>> round(mean_level([Level(60, "air"), Level(70, "air")]), 1)
    67.4
    """
    kinds = sorted({one.kind for one in levels})
    if len(kinds) != 1:
        given = ", ".join(f"{m} {w or 'unweighted'} re {r:g} µPa" for m, w, r in kinds)
        bounds.refuse(
            "levels",
            "These levels cannot be averaged.",
            f"They are not of one kind: {given}." if kinds else "None was given.",
            "Average each medium, weighting and reference by itself.",
        )
    db = np.array([bounds.number("db", one.db, "level") for one in levels])
    time = np.array([bounds.above_zero("duration_s", one.duration_s, "time") for one in levels])
    scaled = special.logsumexp(db * np.log(10) / 10, b=time / time.sum())
    return float(10 * scaled / np.log(10))


def mean_levels(db: Numbers, place: NDArray[np.intp]) -> Numbers:
    """Average levels of one kind and of equal durations by their energy, group by group.

    Parameters
    ----------
    db : ndarray of float, shape (readings,)
        Decibels in one medium, none missing.
    place : ndarray of int, shape (readings,)
        Group of each reading, from 0 on; no group is empty.

    Returns
    -------
    ndarray of float, shape (groups,)

    Examples
    --------
    >>> import numpy as np
    >>> mean_levels(np.array([60.0, 70.0, 50.0]), np.array([0, 0, 1])).round(1).tolist()
    [67.4, 50.0]
    """
    # Taken off before and put back after: the energy of a loud sound would overflow.
    top = np.full(int(place.max()) + 1, -np.inf)
    np.fmax.at(top, place, db)
    energy = np.bincount(place, 10 ** ((db - top[place]) / 10))
    return np.asarray(top + 10 * np.log10(energy / np.bincount(place)))
