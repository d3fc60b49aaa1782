"""Rows that may be faulty, as the second pass gives them and the replay takes them."""

from typing import NamedTuple

COLUMN = 1 << 14
NO_ENTRY, EMPTY = COLUMN - 1, COLUMN - 2
"""A cell is known by its column and by the memo's entry for its text, of which there are fewer;
one of the last two stands for a text that the memo does not know, and for none."""


class Listed(NamedTuple):
    """Some rows of the list, one entry a row.

    Parameters
    ----------
    places, masks : list of int
        Which rows, counted from the first after the header, and why each is listed.
    records : list of bytes
    widths : list of int
        How many cells each has.
    asked : list of tuple of int
        The cells that the kernel did not prove: column * `COLUMN` + entry of the memo, or what
        stands in place of one.
    nulls : list of int
        How many of the other columns are empty.
    """

    places: list[int]
    masks: list[int]
    records: list[bytes]
    widths: list[int]
    asked: list[tuple[int, ...]]
    nulls: list[int]
