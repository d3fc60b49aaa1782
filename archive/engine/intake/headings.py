"""Where the headings stand: the row that looks most like names, joined over two rows if need be."""

from collections.abc import Sequence
from dataclasses import dataclass

from archive.engine.intake.names import Namesake
from archive.engine.intake.values import kind_of, said
from registry.guarded.book import Cell, Row
from registry.guarded.workbook import Merge

MOST_ROWS = 30
"""Rows from the top among which the headings are looked for."""
_NUMERIC = frozenset(
    {"integer", "compact", "point", "comma", "thousand", "points and comma", "number", "whole"}
    | {"iso", "iso time", "year first", "named", "day first", "month first", "either", "same"}
    | {"clock", "full clock", "date", "moment", "time"}
)


@dataclass(frozen=True, slots=True)
class Heading:
    """A place where the headings may stand.

    Parameters
    ----------
    first, rows : int
        The first row, from 1, and how many rows are joined.
    labels : tuple of str
        The headings.
    known : int
        How many of them are names of the dictionary.
    numeric : int
        How many cells of its first row are numbers or days.
    score : float
        The higher, the more like headings.
    """

    first: int
    rows: int
    labels: tuple[str, ...]
    known: int
    score: float
    numeric: int = 0

    @property
    def value(self) -> str:
        """The choice as it is sent, such as "4" or "4-5"."""
        last = self.first + self.rows - 1
        return str(self.first) if self.rows == 1 else f"{self.first}-{last}"


def headings_of(
    head: Sequence[Row], fields: Sequence[Namesake], merges: Sequence[Merge] = ()
) -> list[Heading]:
    """Rate the places where the headings may stand, the best first.

    Parameters
    ----------
    head : sequence of (number, cells)
        The first rows.
    fields : sequence of Namesake
        The dictionary's fields; none where there is no dictionary.
    merges : sequence of (first row, first column, last row, last column)
        Merged cells of the sheet, from 1.

    Notes
    -----
    Rated are: how many headings the dictionary knows; how full the row is against the usual row;
    that it holds words and no numbers; that no heading comes twice; that it stands high. Joined
    rows must earn it by more known names, by merged cells, or by a row of units beneath.
    """
    usual = _usual([cells for _, cells in head])
    found = []
    for at, (number, cells) in enumerate(head[:MOST_ROWS]):
        if not any(_text(cell) for cell in cells):
            continue
        for count in (1, 2, 3):
            part = head[at : at + count]
            if len(part) < count or (count > 1 and not _are_words(part[1:])):
                break
            labels = labels_at(part, merges)
            found.append(_rated(number, count, labels, head[at:], fields, merges, usual, at))
    return sorted(found, key=lambda one: (-one.score, one.first, one.rows))


def _text(cell: Cell) -> str:
    return " ".join(said(cell).split())


def _usual(rows: Sequence[Sequence[Cell]]) -> int:
    counts = [sum(bool(_text(cell)) for cell in cells) for cells in rows]
    wide = [count for count in counts if count > 1] or [count for count in counts if count]
    return max(sorted(set(wide), reverse=True), key=wide.count) if wide else 1


def _are_words(rows: Sequence[Row]) -> bool:
    kinds = [kind_of(cell) for _, cells in rows for cell in cells]
    return "text" in kinds and not _NUMERIC & set(kinds)


def labels_at(rows: Sequence[Row], merges: Sequence[Merge] = ()) -> tuple[str, ...]:
    """Join the headings of one or more rows; a merged cell counts for all that it covers.

    Examples
    --------
    >>> labels_at([(1, ["Ray", "Depth", ""]), (2, ["", "top", "bottom"])], [(1, 2, 1, 3)])
    ('Ray', 'Depth top', 'Depth bottom')
    """
    width = max((len(cells) for _, cells in rows), default=0)
    columns: list[list[str]] = [[] for _ in range(width)]
    is_joined = len(rows) > 1
    for depth, (number, cells) in enumerate(rows):
        texts = [_text(cell) for cell in cells] + [""] * (width - len(cells))
        if is_joined:
            texts = _spread(texts, number, merges, is_last=depth == len(rows) - 1)
        for parts, words in zip(columns, texts, strict=True):
            if words and words not in parts:
                parts.append(words)
    labels = [" ".join(parts) for parts in columns]
    while labels and not labels[-1]:
        labels.pop()
    return tuple(labels)


def _spread(texts: list[str], number: int, merges: Sequence[Merge], *, is_last: bool) -> list[str]:
    """Fill what a merged cell covers; a text that came from a sheet has only blanks there."""
    spread = list(texts)
    if merges:
        for top, left, bottom, right in merges:
            if top <= number <= bottom and right <= len(texts):
                for column in range(left, right + 1):
                    spread[column - 1] = spread[column - 1] or texts[left - 1]
        return spread
    if not is_last:
        for column in range(1, len(spread)):
            spread[column] = spread[column] or spread[column - 1]
    return spread


def _rated(
    number: int,
    count: int,
    labels: tuple[str, ...],
    rest: Sequence[Row],
    fields: Sequence[Namesake],
    merges: Sequence[Merge],
    usual: int,
    at: int,
) -> Heading:
    filled = [label for label in labels if label]
    known = sum(any(field.likeness(label)[0] >= 0.85 for field in fields) for label in filled)
    kinds = [kind_of(cell) for cell in rest[0][1]]
    numeric = sum(kind in _NUMERIC for kind in kinds)
    score = 2.0 * known / max(1, len(fields))
    score += min(1.0, len(filled) / max(1, usual)) - 2.0 * numeric / max(1, len(filled))
    score -= 0.5 * (1 - len({label.casefold() for label in filled}) / max(1, len(filled)))
    score -= 0.02 * at + 0.2 * (count - 1)
    is_merged = any(
        top <= number + count - 2 and bottom >= number and right > left
        for top, left, bottom, right in merges
    )
    if count > 1 and is_merged:
        score += 0.5
    if len(rest) > count + 1 and _is_units(rest, count):
        # A row of words over columns of numbers belongs to the headings.
        score -= 0.5
    return Heading(number, count, labels, known, score, numeric)


def _is_units(rest: Sequence[Row], count: int) -> bool:
    """Whether the row after these headings holds words where those under it hold numbers."""
    _, cells = rest[count]
    if not _are_words([rest[count]]):
        return False
    unlike = 0
    words = 0
    for column, cell in enumerate(cells):
        if not _text(cell):
            continue
        words += 1
        below = [row[column] for _, row in rest[count + 1 : count + 20] if column < len(row)]
        kinds = [kind_of(one) for one in below]
        filled = [kind for kind in kinds if kind != "blank"]
        unlike += bool(filled) and sum(kind in _NUMERIC for kind in filled) * 2 > len(filled)
    return unlike * 3 >= words > 0
