"""Proposes which sheet of a workbook is read, and tells what stands in it beside values."""

import itertools
from pathlib import Path

from archive.engine.intake.decisions import Choice, Option, several
from archive.engine.intake.desk import Desk
from archive.engine.intake.grid import SheetGrid
from archive.engine.intake.headings import MOST_ROWS, Heading, headings_of
from registry.errors import Unsound
from registry.guarded.book import Book
from registry.guarded.workbook import SheetFacts, place

_SHEETS = 30
"""Sheets of a workbook that are looked into; of more only the names are offered."""


def open_book(desk: Desk, path: Path) -> SheetGrid:
    """Open a workbook and propose its sheet."""
    book = Book(path, desk.limits)
    if not book.names:
        raise Unsound("The workbook was not read.", "It has no sheet.", "Send another file.")
    found = {name: _heading_of(desk, book, name) for name in book.names[:_SHEETS]}
    best, known = _best(book, found)
    options = tuple(
        Option(name, name, _note(book.sheet(name), found[name]) if name in found else "")
        for name in book.names
    )
    last = desk.last.sheet if desk.last else None
    if last is not None and last not in book.names:
        desk.changes.append(f"Last time the sheet was “{last}”; there is none of that name.")
    is_alone = len(book.names) == 1
    reason = "It is the only sheet." if is_alone else f"Of {len(book.names)} sheets its "
    if not is_alone:
        reason += (
            f"headings are most like the dictionary’s: {known} are known."
            if known
            else "first rows look most like a table."
        )
    sure = 1.0 if is_alone else 0.9 if known else 0.6
    sheet = desk.decide("sheet", Choice("Which sheet?", best, reason, sure, options), last)
    _tell_twins(desk, sheet, found)
    _tell_book(desk, book)
    _tell_sheet(desk, book.sheet(sheet))
    return SheetGrid(book, sheet)


def _heading_of(desk: Desk, book: Book, name: str) -> Heading | None:
    head = list(itertools.islice(book.rows(name), MOST_ROWS))
    return next(iter(headings_of(head, desk.fields, book.sheet(name).merges)), None)


def _best(book: Book, found: dict[str, Heading | None]) -> tuple[str, int]:
    """Give the sheet that looks most like the table, and how many headings of it are known."""
    rated = []
    for at, (name, heading) in enumerate(found.items()):
        score = (heading.score if heading else -9.0) - 2.0 * book.sheet(name).is_hidden
        rated.append((score - 0.01 * at, heading.known if heading else 0, name))
    _, known, best = max(rated, key=lambda one: one[0])
    return best, known


def _note(facts: SheetFacts, heading: Heading | None) -> str:
    labels = ", ".join(label for label in heading.labels if label)[:100] if heading else "empty"
    return f"hidden; {labels}" if facts.is_hidden else labels


def _tell_twins(desk: Desk, sheet: str, found: dict[str, Heading | None]) -> None:
    """Tell of sheets with the same headings: they may be parts of one table."""
    ours = found.get(sheet)
    twins = [
        name
        for name, heading in found.items()
        if name != sheet and ours and heading and heading.labels == ours.labels
    ]
    if twins:
        words = (
            f"{several(len(twins), 'other sheet has', 'other sheets have')} the same headings and"
            " will not be read. If they are parts of one table, put their rows on one sheet, with a"
            " column for what the sheet’s name says, and send that."
        )
        desk.tell("twin sheets", words, len(twins), [f"“{name}”" for name in twins[:5]])


def _tell_book(desk: Desk, book: Book) -> None:
    if book.facts.kind == "xls":
        desk.tell(
            "old workbook",
            "An older .xls does not tell which rows are hidden, which cells are formulas and which"
            " failed. Save it as .xlsx to have that told.",
        )
    if book.facts.is_1904:
        desk.tell("1904", "The workbook counts its days from 1904; they were read so.")
    if book.facts.remarks:
        count = several(book.facts.remarks, "remark is", "remarks are")
        desk.tell(
            "remarks",
            f"{count} pinned to cells. They stay in the original and are no part of the table; what"
            " the data need of them belongs into a column.",
            book.facts.remarks,
        )


def _tell_sheet(desk: Desk, facts: SheetFacts) -> None:
    if facts.is_hidden:
        desk.tell("hidden sheet", f"The sheet “{facts.name}” is hidden.")
    if facts.formulas:
        desk.tell(
            "formulas",
            f"{several(facts.formulas, 'cell is a formula', 'cells are formulas')}; the value that"
            " was kept with each is taken, and the formula stays in the original.",
            facts.formulas,
            facts.formula_places,
        )
    if facts.unkept:
        desk.tell(
            "formula without value",
            f"{several(facts.unkept, 'formula has', 'formulas have')} no kept value and reads as"
            " blank. Open the workbook where it was made, save it, and send it again.",
            facts.unkept,
            facts.unkept_places,
        )
    if facts.hidden_columns:
        desk.tell(
            "hidden columns",
            f"{several(len(facts.hidden_columns), 'column is', 'columns are')} hidden and read like"
            " the others; each can be left out below.",
            len(facts.hidden_columns),
            [place(1, column)[:-1] for column in sorted(facts.hidden_columns)[:5]],
        )
