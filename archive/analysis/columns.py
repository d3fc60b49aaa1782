"""Columns of words as numbers, so that millions of rows are counted at once."""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from registry.design import bounds

type Codes = NDArray[np.int32]
type Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Coded:
    """A column as numbers.

    Parameters
    ----------
    codes : ndarray of int32, shape (rows,)
        Place of each row's word in `words`; −1 where the cell is empty.
    words : tuple of str
        The different words.
    """

    codes: Codes
    words: tuple[str, ...]

    def __post_init__(self) -> None:
        if len(self.codes) and not -1 <= self.codes.min() <= self.codes.max() < len(self.words):
            bounds.refuse(
                "codes",
                "A coded column points at a word that it has not.",
                f"It has {len(self.words)} words.",
                "Code the column again.",
            )

    def place(self, word: str) -> int:
        """Give the code of a word; −1 where it does not occur."""
        return self.words.index(word) if word in self.words else -1

    @property
    def known(self) -> Flags:
        """Which rows have a word."""
        return self.codes >= 0


def coded(values: Iterable[Hashable]) -> Coded:
    """Code a column of words.

    Parameters
    ----------
    values : iterable of hashable
        None, "" and NaN are empty; anything else is taken as its text without outer spaces.

    Examples
    --------
    >>> found = coded(["rest", "swim", None, "rest"])
    >>> found.codes.tolist(), found.words
    ([0, 1, -1, 0], ('rest', 'swim'))
    """
    seen: dict[str, int] = {}
    codes = []
    for value in values:
        # NaN alone differs from itself: the empty cell of a data frame.
        text = "" if value is None or value != value else str(value).strip()  # noqa: PLR0124
        codes.append(seen.setdefault(text, len(seen)) if text else -1)
    return Coded(np.array(codes, dtype=np.int32), tuple(seen))


def same_length(**columns: Coded | NDArray[np.generic]) -> int:
    """Give the number of rows of columns, or refuse columns of unequal length."""
    lengths = {
        name: len(column.codes if isinstance(column, Coded) else column)
        for name, column in columns.items()
    }
    if len(set(lengths.values())) != 1:
        given = ", ".join(f"{name} {length}" for name, length in lengths.items())
        bounds.refuse(
            next(iter(columns)),
            "The columns are not of one length.",
            f"They have so many rows: {given}.",
            "Give one cell of each for every row.",
        )
    return next(iter(lengths.values()))


def rows_of(names: Iterable[Hashable]) -> dict[Hashable, NDArray[np.intp]]:
    """Give the rows of each name, in the order in which names occur.

    Examples
    --------
    >>> {name: rows.tolist() for name, rows in rows_of("aba").items()}
    {'a': [0, 2], 'b': [1]}
    """
    found: dict[Hashable, list[int]] = {}
    for row, name in enumerate(names):
        found.setdefault(name, []).append(row)
    return {name: np.array(rows) for name, rows in found.items()}
