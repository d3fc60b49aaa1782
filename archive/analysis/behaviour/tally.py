"""Counts of each behaviour in each session of each animal, of one table or of many pieces of it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from archive.analysis.columns import Coded

type Counts = NDArray[np.int64]

LARGEST = 1 << 20
"""Cells of a table of all animals, sessions and behaviours; of more, only those that occur."""
AT_ONCE = 1 << 15
"""Rows that are counted at once: so few stay in the processor's own memory."""


@dataclass(frozen=True, slots=True, eq=False)
class Tally:
    """Counts of behaviours.

    Parameters
    ----------
    animals, sessions, behaviours : tuple of str
    animal, session : ndarray of int, shape (pairs,)
        Place of each pair that occurs, −1 where the cell is empty; in order of both.
    counts : ndarray of int, shape (pairs, behaviours + 1)
        Rows without a behaviour first.
    """

    animals: tuple[str, ...]
    sessions: tuple[str, ...]
    behaviours: tuple[str, ...]
    animal: Counts
    session: Counts
    counts: Counts


def tallied(animal: Coded, session: Coded, behaviour: Coded) -> Tally:
    """Count with one pass over the rows.

    Examples
    --------
    >>> from archive.analysis.columns import coded
    >>> tallied(coded("aab"), coded("sss"), coded(["rest", "rest", None])).counts.tolist()
    [[0, 2], [1, 0]]
    """
    wide, kinds = len(session.words) + 1, len(behaviour.words) + 1
    cells = (len(animal.words) + 1) * wide * kinds
    if cells > LARGEST:
        pair = (animal.codes.astype(np.int64) + 1) * wide + session.codes + 1
        each, row = np.unique(pair, return_inverse=True)
        counts = np.bincount(row * kinds + behaviour.codes + 1, minlength=len(each) * kinds)
    else:
        counts = _of_all(animal, session, behaviour, cells)
        each = np.arange(cells // kinds)
    table = counts.reshape(-1, kinds)
    there = table.any(axis=1)
    each = each[there]
    words = (animal.words, session.words, behaviour.words)
    return Tally(*words, each // wide - 1, each % wide - 1, table[there])


def _of_all(animal: Coded, session: Coded, behaviour: Coded, cells: int) -> Counts:
    """Count into a table of all pairs, a piece of the rows at a time."""
    wide, kinds = len(session.words) + 1, len(behaviour.words) + 1
    counts = np.zeros(cells, dtype=np.int64)
    first = np.int32((wide + 1) * kinds + 1)  # of the place −1 in all three
    step = max(AT_ONCE, cells)
    for begin in range(0, len(animal.codes), step):
        part = slice(begin, begin + step)
        cell = animal.codes[part] * np.int32(wide)  # LARGEST keeps it within 32 bits
        cell += session.codes[part]
        cell *= np.int32(kinds)
        cell += behaviour.codes[part]
        cell += first
        counts += np.bincount(cell, minlength=cells)
    return counts


def joined(pieces: Sequence[Tally]) -> Tally:
    """Add tallies of pieces of a table, whose words may be coded in another order in each.

    Examples
    --------
    >>> from archive.analysis.columns import coded
    >>> pieces = [tallied(coded(a), coded("s"), coded("x")) for a in "ab"]
    >>> found = joined(pieces)
    >>> found.animals, found.counts.tolist()
    (('a', 'b'), [[0, 1], [0, 1]])
    """
    if len(pieces) == 1:
        return pieces[0]
    animals: dict[str, int] = {}
    sessions: dict[str, int] = {}
    behaviours: dict[str, int] = {}
    placed = [
        (
            _places(one.animals, animals)[one.animal],
            _places(one.sessions, sessions)[one.session],
            _places(one.behaviours, behaviours),
        )
        for one in pieces
    ]
    wide = len(sessions) + 1
    pair = np.concatenate([(a + 1) * wide + s + 1 for a, s, _ in placed])
    each, row = np.unique(pair, return_inverse=True)
    counts = np.zeros((len(each), len(behaviours) + 1), dtype=np.int64)
    begin = 0
    for one, (_, _, columns) in zip(pieces, placed, strict=True):
        rows = row[begin : begin + len(one.animal)]
        # The last place stands for an empty cell, and empty cells come first.
        counts[rows[:, None], np.roll(columns, 1)[None, :] + 1] += one.counts
        begin += len(one.animal)
    words = (tuple(animals), tuple(sessions), tuple(behaviours))
    return Tally(*words, each // wide - 1, each % wide - 1, counts)


def _places(words: Sequence[str], known: dict[str, int]) -> Counts:
    """Give the place of each word among those known, learning new ones; −1 stands last."""
    return np.array([*(known.setdefault(one, len(known)) for one in words), -1])
