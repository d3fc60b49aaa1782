"""Use of space: how evenly zones are used, and which are sought or shunned for their size."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.columns import Coded, same_length
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Mean, Numbers, mean_of
from registry.design import bounds


def _uses(seen: ArrayLike) -> Numbers:
    found = np.asarray(seen, dtype=float)
    if found.ndim != 1 or len(found) < 2 or (found < 0).any() or not found.sum() > 0:
        bounds.refuse(
            "seen",
            "The use of space cannot be computed.",
            "It needs two zones or more, no count below 0, and one sighting at the least.",
            "Give how often each zone was used.",
        )
    return found


def _areas(area: ArrayLike, zones: int) -> Numbers:
    found = np.asarray(area, dtype=float)
    if found.shape != (zones,) or not (found > 0).all() or not np.isfinite(found).all():
        bounds.refuse(
            "area",
            "Every zone needs a size above 0.",
            "One has none.",
            "Measure each zone: its area, or its volume where animals use the depth.",
        )
    return np.asarray(found / found.sum())


def spread(seen: ArrayLike) -> float:
    """Give the spread of participation over zones of equal size.

    Parameters
    ----------
    seen : array_like of float, shape (zones,)
        Sightings or time in each zone.

    Returns
    -------
    float
        0 where all zones are used alike, 1 where one alone is.

    Notes
    -----
    [M (nb − na) + (Fa − Fb)] / [2 (N − M)], M the mean, na and nb the zones above and not above it,
    Fa and Fb the sightings there.

    References
    ----------
    Dickens, M. (1955). A statistical formula to quantify the “spread-of-participation” in group
    discussion. Speech Monographs 22, 28–30. Hedeen, S. E. (1982). Utilization of space by captive
    groups of lowland gorillas. Ohio Journal of Science 82, 27–30.

    Examples
    --------
    >>> round(spread([60, 25, 10, 5]), 4), spread([9, 0, 0])
    (0.4667, 1.0)
    """
    use = _uses(seen)
    mean, total = use.mean(), use.sum()
    above = use > mean
    apart = mean * ((~above).sum() - above.sum()) + use[above].sum() - use[~above].sum()
    return float(apart / (2 * (total - mean)))


def spread_unequal(seen: ArrayLike, area: ArrayLike) -> float:
    """Give the spread of participation over zones of unequal size.

    Parameters
    ----------
    seen : array_like of float, shape (zones,)
    area : array_like of float, shape (zones,)
        Size of each zone in one unit, above 0.

    Returns
    -------
    float
        0 where zones are used as their size has it, 1 where the smallest alone is used.

    References
    ----------
    Plowman, A. B. (2003). A note on a modification of the spread of participation index allowing
    for unequal zones. Applied Animal Behaviour Science 83, 331–336.

    Examples
    --------
    >>> round(spread_unequal([60, 25, 10, 5], [0.4, 0.3, 0.2, 0.1]), 4)
    0.2222
    """
    use = _uses(seen)
    expected = _areas(area, len(use)) * use.sum()
    return float(np.abs(use - expected).sum() / (2 * (use.sum() - expected.min())))


def electivity(seen: ArrayLike, area: ArrayLike) -> Numbers:
    """Give how much each zone is sought, from −1 (never used) over 0 (as its size has it).

    Parameters
    ----------
    seen, area : array_like of float, shape (zones,)

    Returns
    -------
    ndarray of float, shape (zones,)
        The relativised E*; its largest value with n zones is (n − 1) / (n + 1), below 1.

    References
    ----------
    Vanderploeg, H. A. and Scavia, D. (1979). Calculation and use of selectivity coefficients of
    feeding. Ecological Modelling 7, 135–149.

    Examples
    --------
    >>> electivity([20, 20, 0], [1, 1, 2]).round(3).tolist()
    [0.2, 0.2, -1.0]
    """
    use = _uses(seen)
    ratio = use / _areas(area, len(use))
    weight, even = ratio / ratio.sum(), 1 / len(use)
    return np.asarray((weight - even) / (weight + even))


@dataclass(frozen=True, slots=True)
class Zone:
    """One zone.

    Parameters
    ----------
    name : str
    seen : int
        Sightings of all animals.
    share : Mean
        Over animals: share of an animal's sightings, 0 to 1.
    elected : Mean
        Over animals: E*, −1 to below 1.
    """

    name: str
    seen: int
    share: Mean
    elected: Mean


@dataclass(frozen=True, slots=True)
class Space:
    """The use of space over animals.

    Parameters
    ----------
    spread : Mean
        Over animals: spread of participation for unequal zones, 0 to 1.
    by_animal : tuple of (str, float)
    as_equal : tuple of float
        The original index of each animal, as if zones were of one size.
    zones : tuple of Zone
    gaps : tuple of Gap
    """

    spread: Mean
    by_animal: tuple[tuple[str, float], ...]
    as_equal: tuple[float, ...]
    zones: tuple[Zone, ...]
    gaps: tuple[Gap, ...]


def space_use(
    animal: Coded, zone: Coded, areas: Mapping[str, float], *, confidence: float = 0.95
) -> Space:
    """Give the use of space by animal and over animals.

    Parameters
    ----------
    animal, zone : Coded
        One row for each sighting.
    areas : mapping of str to float
        Zone to its size, all in one unit, above 0.
    confidence : float, default 0.95

    Notes
    -----
    Sightings in a zone that is not on the plan are left out and said.
    """
    same_length(animal=animal, zone=zone)
    gaps: list[Gap] = []
    names = tuple(areas)
    places = np.array([*(names.index(w) if w in areas else -1 for w in zone.words), -1])
    place = places[zone.codes]
    _say_lost(zone, place, animal, list(names), gaps)
    keep = (place >= 0) & animal.known
    cell = animal.codes[keep] * len(names) + place[keep]
    counts = np.bincount(cell, minlength=len(animal.words) * len(names))
    table = counts.reshape(len(animal.words), len(names))
    there = table.sum(axis=1) > 0
    if not there.any():
        bounds.refuse(
            "zone",
            "The use of space cannot be computed.",
            "No row has an animal and a zone that is on the plan.",
            "Check the names of the zones.",
        )
    area = list(areas.values())
    spreads = [spread_unequal(row, area) for row in table[there]]
    elected = np.array([electivity(row, area) for row in table[there]])
    share = table[there] / table[there].sum(axis=1, keepdims=True)
    found = [name for name, is_one in zip(animal.words, there, strict=True) if is_one]
    if len(found) == 1:
        gaps.append(Gap("No interval over animals can be computed.", "There is but one animal."))
    zones = tuple(
        Zone(
            name,
            int(table[:, one].sum()),
            mean_of(share[:, one], confidence=confidence, least=0, most=1),
            mean_of(elected[:, one], confidence=confidence, least=-1, most=1),
        )
        for one, name in enumerate(names)
    )
    over = mean_of(spreads, confidence=confidence, least=0, most=1)
    by_animal = tuple(zip(found, spreads, strict=True))
    originals = tuple(spread(row) for row in table[there])
    return Space(over, by_animal, originals, zones, tuple(gaps))


def _say_lost(
    zone: Coded, place: Sequence[int] | Numbers, animal: Coded, names: list[str], gaps: list[Gap]
) -> None:
    strange = [word for word in zone.words if word not in names]
    if strange:
        lost = int((zone.known & (np.asarray(place) < 0)).sum())
        gaps.append(
            Gap(f"{lost} sightings are left out.", f"The plan has no zone {few_named(strange)}.")
        )
    nameless = int((~animal.known).sum())
    if nameless:
        gaps.append(Gap(f"{nameless} sightings are left out.", "They name no animal."))
