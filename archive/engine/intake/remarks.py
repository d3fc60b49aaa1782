"""Tells what was seen in the cells and is nobody's to decide here."""

from collections.abc import Sequence

from archive.engine.intake.columns import kind_by_content
from archive.engine.intake.decisions import FIELD, several
from archive.engine.intake.desk import Desk
from archive.engine.intake.names import fold
from archive.engine.intake.profile import (
    COMMAS,
    COUNTED,
    DAYS,
    NUMERIC,
    SURE_DAYS,
    TEXT_NUMBERS,
    Column,
    Profiler,
)

_FORMS = (
    (DAYS, "numbers parted by signs"),
    (SURE_DAYS - {"named"}, "the year first"),
    (("named",), "the month in words"),
    (("iso", "iso time"), "year-month-day"),
    (("date", "moment"), "a workbook’s own dates"),
    (COUNTED, "plain numbers"),
)


def tell_cells(desk: Desk, labels: Sequence[str], profiler: Profiler, system: str | None) -> None:
    """Tell what is odd in the rows and columns; `system` is None for a text."""
    if profiler.short and system is None:
        words = f"{several(profiler.short, 'row has', 'rows have')} fewer cells than headings."
        desk.tell("short rows", words, profiler.short)
    if profiler.long.count:
        words = (
            f"{several(profiler.long.count, 'row has', 'rows have')} something beyond the last"
            " heading. Often a sign in a cell, such as a decimal comma, parts it in two: then send"
            " the file anew with another sign between cells, or with quotes."
        )
        desk.tell("long rows", words, profiler.long.count, profiler.long.shown.split("; "))
    twins = {fold(label) for label in labels if label and labels.count(label) > 1}
    if twins:
        words = f"Headings that come more than once: {', '.join(sorted(twins))}."
        desk.tell("twin headings", words, len(twins))
    if not profiler.rows:
        desk.tell("no rows", "There is no row of data under the headings.")
    by_name = {one.name: one for one in desk.fields}
    for at, (label, column) in enumerate(zip(labels, profiler.columns, strict=True)):
        field = by_name.get(desk.chosen(f"column:{at}").removeprefix(FIELD))
        kind = field.type if field else kind_by_content(column)
        if kind in {"date", "datetime"}:
            _tell_days(desk, label, column, system)
        if kind in {"number", "integer"}:
            _tell_numbers(desk, label, column, system)
        if system and field and kind == "string":
            _tell_codes(desk, label, column)


def _tell_days(desk: Desk, label: str, column: Column, system: str | None) -> None:
    forms = [said for kinds, said in _FORMS if column.count(kinds)]
    if len(forms) > 1:
        desk.tell(
            "mixed dates",
            f"“{label}” has dates written in {len(forms)} ways: {'; '.join(forms)}.",
            column.count(DAYS),
            column.places(*DAYS, "whole", "integer"),
        )
    no_days = ("text", "clock", "full clock", "no day", "boolean", "time")
    if count := column.count(no_days):
        words = f"“{label}” has {several(count, 'cell that is', 'cells that are')} no date."
        desk.tell("no date", words, count, column.places(*no_days))
    early = [text for _, text in column.examples.get("date", ()) if text < "1900-03-01"]
    if early and system == "serial-1900":
        desk.tell(
            "early dates",
            f"“{label}” has dates before March 1900, such as {early[0]}. Workbooks count a"
            " 29 February 1900 that never was, so that they may be a day off.",
            len(early),
        )


def _tell_numbers(desk: Desk, label: str, column: Column, system: str | None) -> None:
    if system and column.text_numbers:
        count = several(column.text_numbers, "number")
        desk.tell(
            "numbers as text",
            f"“{label}” has {count} kept as text by the workbook; read as numbers here.",
            column.text_numbers,
            column.places(*TEXT_NUMBERS, *COMMAS),
        )
    fits = {*NUMERIC, *COMMAS, "blank", "missing", "error"}
    others = [kind for kind in column.kinds if kind not in fits]
    if odd := column.count(others):
        words = f"“{label}” has {several(odd, 'cell that is', 'cells that are')} no number."
        desk.tell("no number", words, odd, column.places(*others))


def _tell_codes(desk: Desk, label: str, column: Column) -> None:
    if count := column.count(("whole", "number")):
        words = (
            f"“{label}” has {several(count, 'number')} where the dictionary has text. Zeros at the"
            " front, if there were any, are lost."
        )
        desk.tell("text as numbers", words, count, column.places("whole", "number"))
