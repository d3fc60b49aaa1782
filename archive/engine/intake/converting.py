"""Repeats a recipe on a file: a stream of rows in, canonical CSV out, and where each row was."""

import csv
import difflib
import hashlib
import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from archive.engine.intake.extent import Extent, body_of, words_of
from archive.engine.intake.grid import Grid, SheetGrid, TextGrid
from archive.engine.intake.headings import MOST_ROWS, labels_at
from archive.engine.intake.recipe import ColumnRule, Recipe
from archive.engine.intake.values import ERRORS, said, writer_of
from archive.engine.limits import Limits
from registry.errors import TooLarge, Unsound
from registry.guarded.book import Book, Row
from registry.guarded.sizes import size
from registry.guarded.workbook import Merge

WHAT = "The file was not converted."
PLACES = 5


@dataclass(frozen=True, slots=True)
class Left:
    """Cells that a rule did not fit, and that were written as they stood."""

    column: str
    count: int
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Converted:
    """What came of a conversion.

    Parameters
    ----------
    rows, bytes : int
        Of the result, the header not counted among the rows.
    sha256, source_sha256 : str
        Digests of the result and of the file, in lower-case hexadecimal.
    row_map : tuple of (first row, first source row, count)
        Where the rows came from, run by run; the header is row 1 of the result.
    left : tuple of Left
        Cells that were written as they stood.
    """

    rows: int
    bytes: int
    sha256: str
    source_sha256: str
    row_map: tuple[tuple[int, int, int], ...]
    left: tuple[Left, ...]

    def source_row(self, row: int) -> int | None:
        """Give the row or line of the original for a row of the result."""
        for first, source, count in self.row_map:
            if first <= row < first + count:
                return source + row - first
        return None

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        return asdict(self)

    @classmethod
    def from_dict(cls, shape: dict[str, Any]) -> "Converted":
        """Read back what `as_dict` gave."""
        given = dict(shape)
        given["row_map"] = tuple((one[0], one[1], one[2]) for one in shape["row_map"])
        given["left"] = tuple(
            Left(one["column"], one["count"], tuple(one["places"])) for one in shape["left"]
        )
        return cls(**given)


def digest_of(path: Path) -> str:
    """Give the SHA-256 of a file, in lower-case hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def convert_here(path: Path, recipe: Recipe, out: Path, limits: Limits) -> Converted:
    """Repeat a recipe on a file, in this process; `convert` does the same in a child.

    Parameters
    ----------
    path, out : Path
        The file, and where the result is to stand.
    recipe : Recipe
        What was confirmed.
    limits : Limits
        For rows, columns and cells.

    Raises
    ------
    Unsound
        When the file no longer fits the recipe, with what is different.
    TooLarge
        When it is over a limit.
    """
    grid, hidden = grid_of(path, recipe, limits)
    rules = _fitted(grid, recipe)
    writers = {rule.name: (place, writer_of(rule)) for place, rule in rules if rule.name}
    steps = [(name, *writers.get(name, (None, None))) for name in recipe.order]
    width = max((place for place, _ in rules), default=-1) + 1
    most = limits.workbook_rows if recipe.kind == "workbook" else limits.table_rows
    left: dict[str, tuple[int, list[str]]] = {}
    mapped = _RowMap()
    with out.open("xb") as file:
        tee = _Tee(file)
        write = csv.writer(tee, lineterminator="\n").writerow
        write(recipe.order)
        for number, cells in _body(grid, recipe, hidden):
            _check_width(number, cells, width)
            made = []
            for name, place, writer in steps:
                if writer is None or place is None or place >= len(cells):
                    made.append("")
                    continue
                cell = cells[place]
                if recipe.errors == "blank" and isinstance(cell, str) and cell in ERRORS:
                    cell = ""
                text, fits = writer(cell)
                if not fits:
                    _note(left, name, number, text)
                made.append(text)
            write(made)
            mapped.add(number)
            if mapped.count > most:
                raise TooLarge(
                    WHAT, f"It has more than {most:,} rows.", "Split it into several tables."
                )
        if tee.bytes > limits.table_bytes:
            raise TooLarge(
                WHAT, f"The result is over {size(limits.table_bytes)}.", "Split it into tables."
            )
    return Converted(
        rows=mapped.count,
        bytes=tee.bytes,
        sha256=tee.running.hexdigest(),
        source_sha256=digest_of(path),
        row_map=tuple(mapped.runs()),
        left=tuple(Left(name, count, tuple(places)) for name, (count, places) in left.items()),
    )


def grid_of(
    path: Path, recipe: Recipe, limits: Limits, book: Book | None = None
) -> tuple[Grid, set[int]]:
    """Open what a recipe reads, and give the rows of it that are hidden and left out."""
    if recipe.kind == "text":
        quote = recipe.quote
        return TextGrid(path, recipe.encoding, recipe.delimiter, quote, limits), set()
    opened = book or Book(path, limits)
    if recipe.sheet not in opened.names:
        there = ", ".join(f"“{name}”" for name in opened.names[:10])
        raise Unsound(
            WHAT,
            f"The recipe reads the sheet “{recipe.sheet}”; this workbook has {there}.",
            "Choose the sheet on its intake page, or rename it as it was.",
        )
    hidden = opened.sheet(recipe.sheet).hidden_rows if recipe.hidden_rows != "keep" else set()
    after = recipe.header_first + recipe.header_rows - 1 if recipe.merges == "fill" else None
    return SheetGrid(opened, recipe.sheet, after), hidden


def _body(grid: Grid, recipe: Recipe, hidden: set[int]) -> Iterator[Row]:
    rows = heading_rows(grid, recipe.header_first, recipe.header_rows)
    extent = Extent(
        after=recipe.header_first + recipe.header_rows - 1,
        end=recipe.end,
        narrow=recipe.narrow_cells,
        hidden=frozenset(hidden),
        keeps_blanks=recipe.blanks == "keep",
        headings=tuple(words_of(cells) for _, cells in rows) if recipe.repeats != "keep" else (),
        drops_sums=recipe.sums != "keep",
    )
    return body_of(grid, extent)


def heading_rows(grid: Grid, first: int, rows: int) -> list[Row]:
    """Give the rows in which the headings stand."""
    found = []
    for number, cells in grid.rows():
        if number >= first + rows:
            break
        if number >= first:
            found.append((number, cells))
    return found


def _fitted(grid: Grid, recipe: Recipe) -> list[tuple[int, ColumnRule]]:
    """Give each rule with the place of its column now; refuse a file whose headings differ."""
    merges = grid.book.sheet(grid.name).merges if isinstance(grid, SheetGrid) else []
    rows = heading_rows(grid, recipe.header_first, recipe.header_rows)
    labels = list(labels_at(rows, merges))
    wanted = [rule.label for rule in recipe.columns]
    if differing := differences(wanted, labels):
        told = _moved(grid, recipe, wanted, merges) or " ".join(differing)
        raise Unsound(
            WHAT,
            f"Its headings are not those of the recipe: {told}",
            "Look at it on its intake page and confirm what becomes of each column.",
        )
    places = []
    for rule in recipe.columns:
        is_one = bool(rule.label) and labels.count(rule.label) == 1
        places.append((labels.index(rule.label) if is_one else rule.position, rule))
    return places


def _moved(grid: Grid, recipe: Recipe, wanted: list[str], merges: Sequence[Merge]) -> str:
    """Say where the headings stand now, if they stand elsewhere as they were."""
    head = list(itertools.islice(grid.rows(), MOST_ROWS))
    for number, _ in head:
        rows = [row for row in head if number <= row[0] < number + recipe.header_rows]
        if not differences(wanted, list(labels_at(rows, merges))):
            return f"they stand in row {number} now, and stood in row {recipe.header_first}."
    return ""


def differences(wanted: list[str], labels: list[str]) -> list[str]:
    """Say how the headings of a file differ from those of a recipe.

    Examples
    --------
    >>> differences(["ray", "depth"], ["ray", "Depth m"])
    ['“depth” is now named “Depth m”, it seems.']
    """
    gone = [label for label in dict.fromkeys(wanted) if label and label not in labels]
    new = [label for label in dict.fromkeys(labels) if label and label not in wanted]
    if len(gone) > 1 and len(gone) == len({label for label in wanted if label}):
        read = ", ".join(f"“{label[:40]}”" for label in labels[:8] if label) or "nothing"
        named = ", ".join(f"“{label}”" for label in gone[:8])
        return [f"none of {named} is there; read were {read}."]
    found = []
    for label in gone:
        like = _like(label, new, wanted, labels)
        if like is not None:
            new.remove(like)
            found.append(f"“{label}” is now named “{like}”, it seems.")
        else:
            found.append(f"“{label}” is missing.")
    found += [f"“{label}” is new." for label in new]
    for label in dict.fromkeys(one for one in wanted if one):
        count, now = wanted.count(label), labels.count(label)
        if now and now != count:
            found.append(f"“{label}” comes {now} times and came {count} times.")
    has_twins = any(label and labels.count(label) > 1 for label in labels)
    is_named = all(wanted)
    if not found and labels != wanted[: len(labels)] and (has_twins or not is_named):
        found.append("They stand in another order, and not each has a heading of its own.")
    return found


def _like(label: str, new: list[str], wanted: list[str], labels: list[str]) -> str | None:
    at = wanted.index(label)
    if len(labels) == len(wanted) and labels[at] in new:
        return labels[at]
    lower = {one.casefold(): one for one in new}
    close = difflib.get_close_matches(label.casefold(), lower, n=1, cutoff=0.7)
    return lower[close[0]] if close else None


def _check_width(number: int, cells: list[Any], width: int) -> None:
    if len(cells) > width and any(said(cell).strip() for cell in cells[width:]):
        raise Unsound(
            WHAT,
            f"Row {number} has something in column {len(cells)}; the recipe knows {width} columns.",
            "Look whether a delimiter stands inside a cell there, or confirm its columns anew.",
        )


def _note(left: dict[str, tuple[int, list[str]]], name: str, number: int, text: str) -> None:
    count, places = left.setdefault(name, (0, []))
    if len(places) < PLACES:
        places.append(f"row {number}: {text[:40]}")
    left[name] = (count + 1, places)


class _Tee:
    """Writes text as UTF-8, counting and hashing it on the way."""

    def __init__(self, file: BinaryIO) -> None:
        self.file, self.bytes, self.running = file, 0, hashlib.sha256()

    def write(self, text: str) -> int:
        block = text.encode("utf-8")
        self.file.write(block)
        self.running.update(block)
        self.bytes += len(block)
        return len(text)


@dataclass
class _RowMap:
    """Joins rows that follow each other in both files to runs."""

    count: int = 0
    joined: list[list[int]] = field(default_factory=list)

    def add(self, source: int) -> None:
        self.count += 1
        row = self.count + 1
        if self.joined:
            first, begins, many = self.joined[-1]
            if source - begins == row - first == many:
                self.joined[-1][2] += 1
                return
        self.joined.append([row, source, 1])

    def runs(self) -> Iterable[tuple[int, int, int]]:
        return ((first, source, count) for first, source, count in self.joined)


def written(rows: Iterable[Row], recipe: Recipe) -> Iterator[tuple[str, ...]]:
    """Give rows as a recipe would write them, for the preview; the headings are not looked at."""
    rules = {rule.name: rule for rule in recipe.columns if rule.name}
    steps = [
        (rules[name].position, writer_of(rules[name])) if name in rules else None
        for name in recipe.order
    ]
    for number, cells in rows:
        made = [str(number)]
        for step in steps:
            if step is None or step[0] >= len(cells):
                made.append("")
                continue
            cell = cells[step[0]]
            if recipe.errors == "blank" and isinstance(cell, str) and cell in ERRORS:
                cell = ""
            made.append(step[1](cell)[0])
        yield tuple(made)
