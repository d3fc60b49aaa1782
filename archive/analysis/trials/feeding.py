"""Feed conversion of tanks: what was fed over what was gained."""

from collections.abc import Hashable, Sequence

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.columns import rows_of
from archive.analysis.comparing.units import Units, unit_means
from archive.analysis.gaps import Gap, few_named
from registry.design import bounds


def feed_conversion(feed_g: float, gain_g: float) -> float:
    """Give the feed conversion ratio: feed over gain of mass, both in grams.

    Raises
    ------
    Unsound
        Where nothing was gained: the ratio then means nothing.

    Examples
    --------
    >>> feed_conversion(150, 100)
    1.5
    """
    if bounds.number("feed_g", feed_g, "feed") < 0:
        bounds.above_zero("feed_g", feed_g, "feed")
    return float(feed_g / bounds.above_zero("gain_g", gain_g, "gain of mass", "Report the loss."))


def tank_conversion(
    feed_g: ArrayLike,
    gain_g: ArrayLike,
    tank: Sequence[Hashable],
    arm: Sequence[Hashable],
) -> tuple[Units, tuple[Gap, ...]]:
    """Give one feed conversion ratio for each tank: animals that eat together have but one.

    Parameters
    ----------
    feed_g, gain_g : array_like of float, shape (rows,)
        Of a tank over some time, in grams; rows of a tank are added first.
    tank, arm : sequence of hashable

    Returns
    -------
    Units
        To be compared by `unit_t` or by the draw.
    tuple of Gap

    Examples
    --------
    >>> found, gaps = tank_conversion([10, 20, 9], [10, 10, -1], ["a", "a", "b"], ["x", "x", "y"])
    >>> found.values.tolist(), gaps[0].what
    ([1.5], 'No feed conversion of b.')
    """
    feed, gain = np.asarray(feed_g, dtype=float), np.asarray(gain_g, dtype=float)
    ratios, names, arms, lost = [], [], [], []
    for one, own in rows_of(tank).items():
        given, won = float(feed[own].sum()), float(gain[own].sum())
        if not (given >= 0 and won > 0):
            lost.append(str(one))
            continue
        ratios.append(given / won)
        names.append(one)
        arms.append(arm[int(own[0])])
    gaps = []
    if lost:
        gaps.append(
            Gap(
                f"No feed conversion of {few_named(lost)}.",
                "Nothing was gained, or a weight is missing.",
            )
        )
    return unit_means(ratios, names, arms), tuple(gaps)
