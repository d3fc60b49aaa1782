"""Workbooks and foreign texts spoiled on purpose, for which a student is asked how they are read.

Made by program from the same sound package as `tests.archive.spoiled`; each says what must be told
of it, what must be asked, and what a person who has their notes answers.
"""

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

import xlsxwriter

from tests.archive.engine.intake.making import ods, ods_row
from tests.archive.spoiled import DESCRIPTOR, sound

FIELDS = {one["name"]: one["type"] for one in DESCRIPTOR["resources"][1]["schema"]["fields"]}
LABELS, *ROWS = sound().checks
DAYS = ("seen_on", "written_on")
EPOCH = {False: date(1899, 12, 30), True: date(1904, 1, 1)}


def typed(name: str, cell: str) -> Any:
    """Give a cell of the sound table as a spreadsheet holds it."""
    if name == "written_on":
        return datetime.strptime(cell, "%d/%m/%Y").date()  # noqa: DTZ007  # why: a day has no zone
    match FIELDS[name]:
        case "integer":
            return int(cell)
        case "number":
            return float(cell)
        case "boolean":
            return cell == "true"
        case "date":
            return date.fromisoformat(cell)
        case "datetime":
            return datetime.fromisoformat(cell)
        case _:
            return cell or None


def cells_of(
    change: Callable[[str, Any], Any] = lambda name, cell: cell,
) -> list[list[Any]]:
    """Give the rows as a spreadsheet holds them, each cell changed."""
    return [
        [change(name, typed(name, cell)) for name, cell in zip(LABELS, row, strict=True)]
        for row in ROWS
    ]


def serial(*, is_1904: bool) -> Callable[[str, Any], Any]:
    """Give the change of days into numbers counted from 1900 or 1904."""
    return lambda name, cell: (cell - EPOCH[is_1904]).days if name in DAYS else cell


def put(book: Any, page: Any, rows: list[list[Any]], top: int = 0) -> None:
    """Write rows; days and moments with their format."""
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    moment = book.add_format({"num_format": "dd/mm/yyyy hh:mm:ss"})
    for at, row in enumerate(rows, start=top):
        for column, cell in enumerate(row):
            if isinstance(cell, str):
                page.write_string(at, column, cell)
            elif isinstance(cell, datetime):
                page.write_datetime(at, column, cell, moment)
            elif isinstance(cell, date):
                page.write_datetime(at, column, cell, day)
            elif cell is not None:
                page.write(at, column, cell)


def book(
    fill: Callable[[Any, Any], None], *, is_1904: bool = False, before: tuple[str, ...] = ()
) -> bytes:
    """Make a workbook; `before` names sheets that stand before the one that is filled."""
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "date_1904": is_1904}) as opened:
        for name in before:
            opened.add_worksheet(name).write_string(0, 0, "Read me first")
        fill(opened, opened.add_worksheet("Checks"))
    return made.getvalue()


def plainly(rows: list[list[Any]], top: int = 0) -> Callable[[Any, Any], None]:
    """Fill a sheet with headings and rows."""
    return lambda opened, page: put(opened, page, [LABELS, *rows], top)


@dataclass(frozen=True)
class Foreign:
    """One foreign file: what is told, what is proposed ("" where it is asked), and the answers."""

    name: str
    file: str
    content: bytes
    told: tuple[str, ...] = ()
    chosen: dict[str, str] = field(default_factory=dict)
    answers: dict[str, str] = field(default_factory=dict)


def _merged(opened: Any, page: Any) -> None:
    page.merge_range(0, 0, 0, 5, "Checks of egg strings")
    page.merge_range(1, 2, 1, 3, "watch")
    put(opened, page, [LABELS, *cells_of()], 2)


def _hidden(opened: Any, page: Any) -> None:
    put(opened, page, [LABELS, *cells_of()])
    page.set_row(4, None, None, {"hidden": True})


def _twin(opened: Any, page: Any) -> None:
    put(opened, page, [LABELS, *cells_of()])
    old = opened.add_worksheet("Old")
    put(opened, old, [LABELS, *cells_of()])
    old.hide()


def _formulas(opened: Any, page: Any) -> None:
    put(opened, page, [LABELS, *cells_of()])
    at = LABELS.index("depth")
    page.write_formula(3, at, "=1/4", None, 0.25)
    page.write_formula(4, at, "=1/0", None, "#DIV/0!")
    page.write_formula(5, at, "=NA()", None, "#N/A")


def _text(change: Callable[[list[list[str]]], str], encoding: str = "utf-8") -> bytes:
    return change([list(LABELS), *[list(row) for row in ROWS]]).encode(encoding)


def _lines(rows: list[list[str]], sign: str = ",") -> str:
    quoted = [[f'"{cell}"' if sign in cell else cell for cell in row] for row in rows]
    return "".join(f"{sign.join(row)}\r\n" for row in quoted)


def _european(rows: list[list[str]]) -> str:
    for name in ("depth", "warmth"):
        at = LABELS.index(name)
        for row in rows[1:]:
            row[at] = row[at].replace(".", ",")
    return _lines(rows, ";")


def _either(rows: list[list[str]]) -> str:
    at = LABELS.index("seen_on")
    for number, row in enumerate(rows[1:], start=1):
        row[at] = f"{1 + number % 9:02}/{5 + number // 9:02}/2026"
    return _lines(rows)


def _cell(value: Any) -> Any:
    if isinstance(value, datetime):
        return f"date:{value.isoformat()}"
    if isinstance(value, date):
        return f"date:{value.isoformat()}"
    if isinstance(value, bool):
        return str(value).lower()
    return "" if value is None else value


FOREIGN = [
    Foreign("a plain workbook", "checks.xlsx", book(plainly(cells_of()))),
    Foreign("a title and merged headings", "checks.xlsx", book(_merged),
            ("merged cells",), {"header": "3"}),
    Foreign("the second of two sheets", "checks.xlsx",
            book(plainly(cells_of()), before=("Read me",)), (), {"sheet": "Checks"}),
    Foreign("a hidden twin", "checks.xlsx", book(_twin), (), {"sheet": "Checks"}),
    Foreign("days as numbers from 1900", "checks.xlsx",
            book(plainly(cells_of(serial(is_1904=False)))), (),
            {"serial:3": "serial-1900", "serial:10": "serial-1900"}),
    Foreign("days as numbers from 1904", "checks.xlsx",
            book(plainly(cells_of(serial(is_1904=True))), is_1904=True), ("1904",),
            {"serial:3": "serial-1904", "serial:10": "serial-1904"}),
    Foreign("formulas, two of which failed", "checks.xlsx", book(_formulas),
            ("formulas", "failed formulas"), {"errors": "blank"}),
    Foreign("a hidden row", "checks.xlsx", book(_hidden), ("hidden rows",),
            {"hidden_rows": ""}, {"hidden_rows": "keep"}),
    Foreign("notes under the table", "checks.xlsx",
            book(plainly([*cells_of(), [], ["Seen from above only."]])), ("notes",)),
    Foreign("titles above a workbook's table", "checks.xlsx",
            book(plainly(cells_of(), 4)), (), {"header": "5"}),
    Foreign("numbers as texts with commas", "checks.xlsx",
            book(plainly(cells_of(lambda name, cell: str(cell).replace(".", ",")
                                  if name == "warmth" else cell))),
            ("numbers as text",), {"decimal:7": "comma"}),
    Foreign("tanks that became numbers", "tanks.xlsx",
            book(lambda opened, page: put(
                opened, page, [["tank", "volume"], [7, 1250.5], [12, 80], [113, 12500]]
            )), ("text as numbers",),
        {"pad:0": "3"}),
    Foreign("an OpenDocument sheet", "checks.ods",
            ods("".join(ods_row(*map(_cell, row)) for row in [LABELS, *cells_of()]))),
    Foreign("semicolons, commas and old letters", "checks.csv", _text(_european, "cp1252"), (),
            {"delimiter": ";", "encoding": "cp1252", "decimal:6": "comma", "decimal:7": "comma"}),
    Foreign("tabs in UTF-16", "checks.txt", _text(lambda rows: _lines(rows, "\t"), "utf-16"), (),
            {"delimiter": "\t", "encoding": "utf-16"}),
    Foreign("titles above and notes under", "checks.csv",
            _text(lambda rows: f"Checks of egg strings\r\nAutumn\r\n\r\n{_lines(rows)}\r\n"
                               "Seen from above only.\r\n"), ("notes",), {"header": "4"}),
    Foreign("days that can be read both ways", "checks.csv", _text(_either), (),
            {"dates:3": ""}, {"dates:3": "dmy"}),
    Foreign("blank rows at the foot", "checks.csv",
            _text(lambda rows: _lines([*rows, [""] * 12, [""] * 12])), ("blank rows",)),
]  # fmt: skip
