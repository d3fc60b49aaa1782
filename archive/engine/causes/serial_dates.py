"""Dates that a spreadsheet saved as the number by which it counts its days."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import ClassVar

from archive.engine.causes.sheet import Column, Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import EPOCHS, SerialDates, read_day, read_serial

EARLIEST = date(1990, 1, 1)
REACH = timedelta(days=366)


class SerialDay:
    """Suspects day numbers of a spreadsheet in a column of dates."""

    kind: ClassVar[str] = "serial-dates"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of dates that has a value of the wrong kind."""
        for name, column in sheet.columns.items():
            fault = sheet.fault("type-error", name)
            if column.type not in {"date", "datetime"} or not fault.count:
                continue
            numbers = [v for v in column.filled() if read_serial(v, 1900) and float(v) > 10_000]
            if not numbers:
                continue
            fits = [epoch for epoch in EPOCHS if _fit(numbers, epoch, column, sheet)]
            form = column.form
            yield Suspicion(
                kind=self.kind,
                what=f"Column “{name}” holds day numbers of a spreadsheet instead of dates.",
                why=f"{listed(numbers)}: so a spreadsheet counts its days since {_since(fits)}.",
                remedy=(
                    f"Set the format of column “{name}” to a date (2026-05-31) in the spreadsheet,"
                    " and save it as CSV again."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(fault.rows),
                count=sum(column.values[value] for value in numbers),
                correction=SerialDates(name, fits[0], form) if len(fits) == 1 else None,
                refused=_refusal(fits),
            )


def _since(fits: list[int]) -> str:
    return str(fits[0]) if len(fits) == 1 else "1900 or 1904"


def _refusal(fits: list[int]) -> str:
    if len(fits) == 1:
        return ""
    if fits:
        return (
            "Spreadsheets count from 1900 or from 1904, four years apart, and both would be"
            " possible here."
        )
    return "No count of a spreadsheet gives days that are possible here."


def _fit(numbers: list[str], epoch: int, column: Column, sheet: Sheet) -> bool:
    """Whether these numbers give days that are possible, beside the proper dates of the column."""
    days = [moment.date() for n in numbers if (moment := read_serial(n, epoch))]
    proper = [moment.date() for v in column.filled() if (moment := read_day(v, "ymd"))]
    least = min(proper) - REACH if proper else EARLIEST
    most = max(proper) + REACH if proper else sheet.today
    return all(least <= day <= min(most, sheet.today) for day in days)
