"""The child that makes plain text of a workbook: options as JSON come in, one answer goes out.

Started as ``python -m registry.animals.intake.opening`` by ``registry.animals.intake.workbook``; it
limits itself before it reads a byte of the file, and starts no web framework.
"""

import csv
import sys
from datetime import date, datetime
from pathlib import Path
from typing import Any

from registry.animals.intake.limits import BookRoom
from registry.errors import Unsound
from registry.guarded.book import Book, Cell
from registry.guarded.child import answer_once
from registry.guarded.workbook import SheetFacts

WHAT = "The file was not read."


def main() -> int:
    """Write the first sheet that is not hidden, and has rows, as CSV."""
    return answer_once(_answer, lambda _options: BookRoom())


def _answer(options: dict[str, Any]) -> dict[str, Any]:
    _convert(Path(options["path"]), Path(options["out"]), BookRoom())
    return {}


def _convert(path: Path, out: Path, room: BookRoom) -> None:
    book = Book(path, room)
    for name in book.names:
        if book.sheet(name).is_hidden:
            continue
        _sound(book.sheet(name))
        rows = book.rows(name)
        first = next(rows, None)
        if first is None:
            continue
        with out.open("w", encoding="utf-8", newline="") as written:
            writer = csv.writer(written)
            writer.writerow([_text(cell) for cell in first[1]])
            writer.writerows([_text(cell) for cell in cells] for _, cells in rows)
        return
    raise Unsound(WHAT, "There is no row in it.", "Look whether it is the right file.")


def _sound(sheet: SheetFacts) -> None:
    """Refuse what would be read wrong without a word: what was never reckoned, or is not seen."""
    if sheet.unkept:
        raise Unsound(
            WHAT,
            f"The workbook holds formulas without a result, such as in {sheet.unkept_places[0]}.",
            "Open it where it was made, save it, and send it again.",
        )
    if sheet.hidden_rows:
        raise Unsound(
            WHAT,
            f"Rows are hidden on the sheet “{sheet.name}”, such as row {min(sheet.hidden_rows)}.",
            "Show them or delete them, save, and send it again: a hidden row would come in unseen.",
        )


def _text(cell: Cell) -> str:
    """Write a cell as a person would in a text file: days as 2026-11-24, 7.0 as 7."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime) and (cell.hour, cell.minute, cell.second) == (0, 0, 0):
        return cell.date().isoformat()
    if isinstance(cell, date | datetime):
        return cell.isoformat()
    return str(cell)


if __name__ == "__main__":
    sys.exit(main())
