"""Looks at a file and proposes each decision, in this process; `propose` does it in a child."""

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from archive.engine.descriptor import WORKBOOKS
from archive.engine.intake.building import recipe_of
from archive.engine.intake.columns import columns_in
from archive.engine.intake.converting import differences, digest_of, written
from archive.engine.intake.decisions import Proposal
from archive.engine.intake.desk import Desk
from archive.engine.intake.extent import body_of
from archive.engine.intake.grid import Grid, SheetGrid
from archive.engine.intake.headings import Heading
from archive.engine.intake.names import namesakes
from archive.engine.intake.opening_book import open_book
from archive.engine.intake.opening_text import open_text
from archive.engine.intake.placing import extent_of, failed, heading_in, merged
from archive.engine.intake.profile import Profiler
from archive.engine.intake.recipe import Recipe
from archive.engine.intake.remarks import tell_cells
from archive.engine.intake.values import said
from archive.engine.limits import Limits
from archive.engine.unpack import is_workbook
from registry.errors import Unsound
from registry.guarded.book import Row

BEFORE = 15
AFTER = 8
HEAD = 100


def look(
    path: Path,
    name: str,
    table: Mapping[str, Any] | None,
    last: Recipe | None,
    answers: Mapping[str, str],
    limits: Limits,
) -> Proposal:
    """Look at a file and propose each decision.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        Its name as it was sent.
    table : mapping or None
        The dictionary's table (a resource with its schema) that it is to become.
    last : Recipe or None
        The recipe of last time, which goes before what is proposed wherever it fits.
    answers : mapping of key to value
        What the person has chosen so far; it goes before everything else.
    limits : Limits
        For the bytes, rows, columns and cells.

    Raises
    ------
    Unsound, TooLarge
        When the file cannot be read, or is over a limit.
    """
    desk = Desk(namesakes(table), last, answers, limits)
    grid = _opened(desk, path, name)
    book = grid.book.facts if isinstance(grid, SheetGrid) else None
    system = None if book is None else "serial-1904" if book.is_1904 else "serial-1900"
    merges = grid.book.sheet(grid.name).merges if isinstance(grid, SheetGrid) else []
    head = list(itertools.islice(grid.rows(), HEAD))
    heading = heading_in(desk, head, merges)
    extent = extent_of(desk, grid, heading, head)
    if isinstance(grid, SheetGrid):
        grid = merged(desk, grid, extent.after)
    profiler, kept = Profiler(), list[Row]()
    profiler.read(_watched(body_of(grid, extent), kept), len(heading.labels))
    labels = [*heading.labels, *[""] * (len(profiler.columns) - len(heading.labels))]
    if desk.last is not None:
        desk.changes += differences([one.label for one in desk.last.columns], labels)
    if desk.chosen("header"):
        # Else nobody knows yet what is a column.
        columns_in(desk, labels, profiler.columns, system)
    if isinstance(grid, SheetGrid):
        failed(desk, grid, extent.after)
    tell_cells(desk, labels, profiler, system)
    made = Proposal(
        name=name,
        sha256=digest_of(path),
        kind="text" if book is None else "workbook",
        table=str((table or {}).get("name") or name.rpartition(".")[0] or name),
        decisions=tuple(desk.decisions),
        notices=tuple(desk.notices),
        changes=tuple(desk.changes),
        labels=tuple(labels),
        frame={
            "header": [heading.first, heading.rows],
            "narrow_cells": extent.narrow,
            "fields": [
                {"name": one.name, "type": one.type, "format": one.format, "words": one.words}
                for one in desk.fields
            ],
            "rows": profiler.rows,
        },
        before=_before(head),
        after=(),
        is_canonical=False,
    )
    return _shown(desk, made, heading, head, kept)


def _opened(desk: Desk, path: Path, name: str) -> Grid:
    """Open a file by what it is, whatever it is named."""
    with path.open("rb") as file:
        first = file.read(512).lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    is_named = name.rpartition(".")[2].lower() in WORKBOOKS
    is_book = is_workbook(path) or (is_named and first.startswith(b"pk"))
    kind = "workbook" if is_book else "text"
    if desk.last is not None and desk.last.kind != kind:
        desk.changes.append(f"Last time it was a {desk.last.kind}; this is a {kind}.")
        desk.last = None
    if is_book:
        return open_book(desk, path)
    if first.startswith((b"<!doctype", b"<html", b"<?xml", b"{\\rtf", b"%pdf")):
        raise Unsound(
            "The file was not read.",
            "It is a page or a document, no table, whatever its name says.",
            "Open it where it was made, save it as .xlsx or CSV (UTF-8), and send that.",
        )
    if is_named:
        desk.tell("no workbook", "It is named like a workbook, but it is a text, and read as one.")
    return open_text(desk, path)


def _watched(rows: Iterable[Row], kept: list[Row]) -> Iterator[Row]:
    """Hand rows on, keeping the first of them."""
    for row in rows:
        if len(kept) < AFTER:
            kept.append(row)
        yield row


def _before(head: Sequence[Row]) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (str(number), *[said(cell)[:200] for cell in cells]) for number, cells in head[:BEFORE]
    )


def _shown(
    desk: Desk, made: Proposal, heading: Heading, head: Sequence[Row], kept: list[Row]
) -> Proposal:
    """Add the rows as they would be, and whether anything would change at all."""
    recipe = recipe_of(made, {}, is_preview=True)
    rows = tuple(tuple(cell[:200] for cell in row) for row in written(kept, recipe))
    names = tuple(one.name for one in desk.fields) or heading.labels
    is_canonical = (
        made.kind == "text"
        and (recipe.encoding, recipe.delimiter, recipe.quote) == ("utf-8", ",", '"')
        and (recipe.header_first, recipe.header_rows, recipe.end) == (1, 1, "all")
        and recipe.order == made.labels == names
        # As they stand, with no spaces about them and no cell beyond the last.
        and tuple(head[0][1]) == names
        and not any(one.is_changing for one in recipe.columns)
        and not made.asked
        and not {"blank rows", "headings again", "totals", "no workbook"}
        & {one.code for one in made.notices}
    )
    return replace(made, after=(("", *recipe.order), *rows), is_canonical=is_canonical)
