"""Dates that a whole column writes in another order than the dictionary says."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import ClassVar

from archive.engine.causes.sheet import Column, Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import DAY, ReorderDates, read_day

SAID = {"dmy": "the day first", "mdy": "the month first", "ydm": "the year, then the day"}


class DayMonth:
    """Suspects day and month swapped, or written the other way round, in a whole column."""

    kind: ClassVar[str] = "day-month"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of dates that has a value of the wrong kind."""
        for name, column in sheet.columns.items():
            fault = sheet.fault("type-error", name)
            if column.type not in {"date", "datetime"} or not fault.count:
                continue
            dates = [value for value in column.filled() if DAY.fullmatch(value.strip())]
            wrong = [value for value in dates if not _is_sound(value, column)]
            if not wrong:
                continue
            orders, refused = _orders(dates, wrong, column)
            if not orders and not refused:
                continue
            order = orders[0] if len(orders) == 1 else ""
            yield Suspicion(
                kind=self.kind,
                what=_what(name, dates, wrong, order),
                why=_why(dates, wrong, column, order),
                remedy=(
                    f"Write each date of column “{name}” as {_example(column)}. In a spreadsheet,"
                    " set the column's format to year-month-day before you save it as CSV."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(fault.rows),
                count=sum(column.values[value] for value in (dates if order else wrong)),
                correction=ReorderDates(name, order, column.form) if order else None,
                refused=refused,
            )


def _is_sound(value: str, column: Column) -> bool:
    if not column.form.startswith("%"):
        return read_day(value, "ymd") is not None
    try:
        datetime.strptime(value.strip(), column.form)  # noqa: DTZ007  # why: a column has no zone
    except ValueError:
        return False
    return True


def _orders(dates: list[str], wrong: list[str], column: Column) -> tuple[list[str], str]:
    """Give the orders in which every date can be read, and why there is not just one.

    Nothing of either where a date is impossible in every order: then it is a slip, no habit.
    """
    is_plain = not column.form.startswith("%")
    year_first = [value for value in dates if value.strip()[:4].isdecimal()]
    year_last = [value for value in dates if value not in set(year_first)]
    if any(value in set(year_first) for value in wrong) and is_plain:
        fits = [order for order in ("ydm",) if all(read_day(v, order) for v in year_first)]
        if fits and not year_last:
            return fits, ""
        return [], ""
    fits = [order for order in ("dmy", "mdy") if all(read_day(v, order) for v in year_last)]
    if len(fits) == 1:
        return fits, ""
    if not any(read_day(value, order) for value in year_last for order in ("dmy", "mdy")):
        return [], "The years have two figures, so that the century would be a guess."
    if not fits:
        return [], "Some dates fit only with the day first, others only with the month first."
    return fits, (
        "Every date can be read both ways, for no day is above 12. Your notes must say which it is."
    )


def _what(name: str, dates: list[str], wrong: list[str], order: str) -> str:
    if order:
        return f"Column “{name}” writes its dates with {SAID[order]}."
    if len(wrong) == len(dates):
        return f"Column “{name}” writes its dates in another form."
    few = f"{len(wrong):,} of the {len(dates):,} different dates"
    return f"{few} in column “{name}” {'is' if len(wrong) == 1 else 'are'} in another form."


def _why(dates: list[str], wrong: list[str], column: Column, order: str) -> str:
    if order in {"dmy", "mdy"}:
        other = "mdy" if order == "dmy" else "dmy"
        telling = [value for value in dates if read_day(value, other) is None]
        telling = [value for value in telling if read_day(value, order)]
        if telling:
            return (
                f"{listed(telling)} can be read in no other order, and all {len(dates)} different"
                " dates of the column can be read in this one."
            )
    return f"{listed(wrong)} is not written as {_example(column)}."


def _example(column: Column) -> str:
    if column.form == "date":
        return "2026-05-31"
    if column.form == "datetime":
        return "2026-05-31T14:05:00"
    return datetime(2026, 5, 31, 14, 5).strftime(column.form)  # noqa: DTZ001  # why: no zone
