"""Orders of animals, a row for each session: Latin in each slot, and even over weekdays."""

from collections import Counter
from collections.abc import Sequence
from itertools import cycle, islice

import numpy as np
from numpy.typing import NDArray

from registry.design.allocation.squares import latin_square
from registry.design.draws import Stream

type Counts = NDArray[np.int64]

STARTS = 8
"""Drawn starts; the most even of them is kept."""


def balanced_orders(
    slots: Sequence[int], weekdays: Sequence[int], animals: int, watched: int, stream: Stream
) -> list[tuple[int, ...]]:
    """Draw an order of animals for each session.

    Parameters
    ----------
    slots, weekdays : sequence of int
        Slot and weekday of each session.
    animals : int
        Animals in all, numbered from 0.
    watched : int
        Animals watched in a session.
    stream : Stream

    Returns
    -------
    list of tuple of int
        For each session the animals in order.

    Notes
    -----
    In each slot the orders are rows of drawn Latin squares, so that each animal has each position
    equally often there; what is left over of a slot comes from one square that the slots share.
    Which row falls on which session is then exchanged within a slot for as long as animals and
    positions become more even over the weekdays, by sums of squared counts. All sums are of whole
    numbers, so that every machine comes to the same end.

    Examples
    --------
    >>> orders = balanced_orders([0] * 4, [0, 1, 2, 3], 4, 4, Stream(bytes(32)))
    >>> all(sorted(one) == [0, 1, 2, 3] for one in [*orders, *zip(*orders)])
    True
    """
    best: list[tuple[int, ...]] = []
    least = -1
    for _ in range(STARTS):
        orders = _drawn(slots, animals, watched, stream)
        orders, unevenness = _exchanged(orders, slots, weekdays, animals)
        if least < 0 or unevenness < least:
            best, least = orders, unevenness
    return best


def _drawn(
    slots: Sequence[int], animals: int, watched: int, stream: Stream
) -> list[tuple[int, ...]]:
    """Fill every slot with whole squares, and the rest of it from shared ones."""
    # One square gone round and round: any rows of it that follow each other differ in every place.
    shared = cycle(_square(animals, stream))
    of_slot: dict[int, list[tuple[int, ...]]] = {}
    for slot, sessions in sorted(Counter(slots).items()):
        rows: list[tuple[int, ...]] = []
        for _ in range(sessions // animals):
            rows += _square(animals, stream)
        rows += islice(shared, sessions % animals)
        of_slot[slot] = stream.shuffled(rows)
    return [of_slot[slot].pop()[:watched] for slot in slots]


def _square(size: int, stream: Stream) -> list[tuple[int, ...]]:
    if size == 1:
        return [(0,)]
    if size > 26:  # beyond what a square is drawn for: a rotation of a drawn order
        order = stream.shuffled(range(size))
        return [tuple(order[step:] + order[:step]) for step in range(size)]
    return list(latin_square(size, stream))


def _exchanged(
    orders: list[tuple[int, ...]],
    slots: Sequence[int],
    weekdays: Sequence[int],
    animals: int,
) -> tuple[list[tuple[int, ...]], int]:
    """Exchange orders of one slot between weekdays while that lowers the squared counts."""
    shown = _shown(orders, animals)
    days, slot = np.asarray(weekdays), np.asarray(slots)
    counts = np.zeros((7, shown.shape[1]), dtype=np.int64)
    np.add.at(counts, days, shown)
    place = np.arange(len(orders))
    better = True
    while better:
        better = False
        for i in range(len(orders)):
            others = np.flatnonzero((slot == slot[i]) & (days != days[i]))
            if not len(others):
                continue
            apart = shown[place[others]] - shown[place[i]]
            change = counts[days[i]] - counts[days[others]]
            gains = -2 * ((apart * change).sum(axis=1) + (apart**2).sum(axis=1))
            if gains.max() <= 0:
                continue
            j, by = int(others[gains.argmax()]), apart[gains.argmax()]
            counts[days[i]] += by
            counts[days[j]] -= by
            place[i], place[j] = place[j], place[i]
            better = True
    return [orders[one] for one in place], int((counts**2).sum())


def _shown(orders: Sequence[tuple[int, ...]], animals: int) -> Counts:
    """Give a row for each order: which animal has which position, and which is watched at all."""
    watched = len(orders[0])
    found = np.zeros((len(orders), animals, watched + 1), dtype=np.int64)
    for number, order in enumerate(orders):
        for position, animal in enumerate(order):
            found[number, animal, [position, watched]] = 1
    return found.reshape(len(orders), -1)
