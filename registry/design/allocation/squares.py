"""Latin squares, and crossovers whose orders balance what comes after what."""

from collections.abc import Iterator, Sequence
from functools import lru_cache

from registry.design import bounds
from registry.design.allocation.base import Allocation, Place, named
from registry.design.draws import Stream

type Square = tuple[tuple[int, ...], ...]

LISTED = 5
"""Orders up to which every reduced square is listed, so that all squares are equally likely."""


def _rows(square: list[tuple[int, ...]], order: int) -> Iterator[Square]:
    """Extend a reduced square row by row, in every way."""
    if len(square) == order:
        yield tuple(square)
        return
    taken = [{row[column] for row in square} for column in range(order)]
    stack: list[tuple[int, ...]] = [(len(square),)]
    while stack:
        row = stack.pop()
        if len(row) == order:
            yield from _rows([*square, row], order)
            continue
        stack += [
            (*row, one)
            for one in range(order - 1, -1, -1)
            if one not in row and one not in taken[len(row)]
        ]


@lru_cache(maxsize=8)
def reduced_squares(order: int) -> tuple[Square, ...]:
    """Give every Latin square whose first row and column stand in order.

    Parameters
    ----------
    order : int
        1 to 5.

    References
    ----------
    Fisher, R. A. and Yates, F. Statistical Tables, on Latin squares: 1, 1, 1, 4, 56.

    Examples
    --------
    >>> [len(reduced_squares(n)) for n in (2, 3, 4, 5)]
    [1, 1, 4, 56]
    """
    bounds.between("order", order, 1, LISTED, "order of a listed square", ends=True)
    return tuple(_rows([tuple(range(order))], order))


def latin_square(order: int, stream: Stream) -> Square:
    """Draw a Latin square: every number from 0 once in each row and each column.

    Parameters
    ----------
    order : int
        2 to 26.
    stream : Stream

    Notes
    -----
    Up to order 5 one of all reduced squares is drawn, and rows, columns and symbols shuffled: every
    square is equally likely. Beyond, the cyclic square is shuffled so.

    References
    ----------
    Fisher, R. A. and Yates, F. (1934). The 6 × 6 Latin squares. Proceedings of the Cambridge
    Philosophical Society 30, 492–507 (from memory).

    Examples
    --------
    >>> square = latin_square(4, Stream(bytes(32)))
    >>> all(set(row) == {0, 1, 2, 3} for row in [*square, *zip(*square)])
    True
    """
    bounds.between("order", order, 2, 26, "order of the square", ends=True)
    if order <= LISTED:
        every = reduced_squares(order)
        square = every[stream.below(len(every))]
    else:
        square = tuple(
            tuple((row + column) % order for column in range(order)) for row in range(order)
        )
    rows, columns, symbols = (stream.shuffled(range(order)) for _ in range(3))
    return tuple(tuple(symbols[square[row][column]] for column in columns) for row in rows)


def latin(
    rows: Sequence[str], columns: Sequence[str], arms: Sequence[str], stream: Stream
) -> Allocation:
    """Allocate by a Latin square: rows and columns are blocks, such as shelves and days.

    Parameters
    ----------
    rows, columns, arms : sequence of str
        As many of each.

    Returns
    -------
    Allocation
        Each unit is named “row / column”, and its block is the row.

    Examples
    --------
    >>> found = latin(["top", "low"], ["Mon", "Tue"], ["x", "y"], Stream(bytes(32)))
    >>> [one.unit for one in found.places]
    ['top / Mon', 'top / Tue', 'low / Mon', 'low / Tue']
    """
    treatments = named("arms", arms, 2, "treatments")
    down, across = named("rows", rows, 2, "rows"), named("columns", columns, 2, "columns")
    if not len(treatments) == len(down) == len(across):
        bounds.refuse(
            "rows",
            "A Latin square has as many rows and columns as treatments.",
            f"{len(down)} rows, {len(across)} columns and {len(treatments)} treatments were given.",
            "Give as many of each, or take randomised blocks.",
        )
    square = latin_square(len(treatments), stream)
    places = tuple(
        Place(f"{row} / {column}", treatments[square[i][j]], row)
        for i, row in enumerate(down)
        for j, column in enumerate(across)
    )
    notes = ("The analysis takes out rows and columns, and assumes that neither alters an effect.",)
    return Allocation("Latin square", places, stream.commitment, notes)


def williams(order: int) -> Square:
    """Give orders in which every treatment follows every other equally often.

    Parameters
    ----------
    order : int
        Treatments, 2 to 26.

    Returns
    -------
    tuple of tuple of int
        As many rows as treatments where these are even, twice as many where odd; treatments from 0.

    References
    ----------
    Williams, E. J. (1949). Experimental designs balanced for the estimation of residual effects of
    treatments. Australian Journal of Scientific Research A 2, 149–168.

    Examples
    --------
    >>> ["".join("ABCD"[one] for one in row) for row in williams(4)]
    ['ABDC', 'BCAD', 'CDBA', 'DACB']
    """
    bounds.between("order", order, 2, 26, "number of treatments", ends=True)
    first = [0]
    low, high = 1, order - 1
    while low <= high:
        first.append(low)
        if low < high:
            first.append(high)
        low, high = low + 1, high - 1
    rows = [tuple((one + step) % order for one in first) for step in range(order)]
    if order % 2:
        rows += [row[::-1] for row in rows]
    return tuple(rows)


def crossover(units: Sequence[str], arms: Sequence[str], stream: Stream) -> Allocation:
    """Give every unit all treatments, in orders that balance what comes after what.

    Parameters
    ----------
    units, arms : sequence of str
    stream : Stream

    Notes
    -----
    Which treatment is which letter is drawn, and the units are dealt to the orders as evenly as can
    be. Balance of first-order carryover holds when the units fill the orders.

    Examples
    --------
    >>> found = crossover(["u1", "u2", "u3", "u4"], ["w", "x", "y", "z"], Stream(bytes(32)))
    >>> len({one.sequence for one in found.places})
    4
    """
    named("units", units, 1, "units")
    treatments = named("arms", arms, 2, "treatments")
    letters = stream.shuffled(treatments)
    orders = [tuple(letters[one] for one in row) for row in williams(len(letters))]
    dealt = stream.shuffled(units)
    rota = stream.shuffled(orders)
    given = {unit: rota[turn % len(rota)] for turn, unit in enumerate(dealt)}
    places = tuple(Place(one, given[one][0], " ".join(given[one]), given[one]) for one in units)
    notes = ["Leave time between the treatments for the one before to wear off."]
    if len(units) % len(orders):
        full = -(-len(units) // len(orders)) * len(orders)
        notes.append(
            f"{len(units)} units do not fill the {len(orders)} orders evenly, so carryover is not "
            f"quite balanced: {full} would."
        )
    return Allocation("crossover in Williams orders", places, stream.commitment, tuple(notes))
