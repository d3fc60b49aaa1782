"""How the cells of one column are read: its days, clock times, decimals and codes."""

from datetime import datetime

from archive.engine.intake.decisions import STANDS, Choice, Option
from archive.engine.intake.profile import COMMAS, COUNTED, DAYS, SURE_DAYS, Column

_FEWEST = 3
"""Days of a workbook's own that must all be early in their month before a swap is suspected."""


def order_choice(label: str, column: Column, form: str) -> Choice | None:
    """Propose which number of a date is the day; None where no day stands in three numbers."""
    if not column.count(("day first", "month first", "either", "same", "no day")):
        return _sure_choice(label, column, form)
    day, month = column.kinds["day first"], column.kinds["month first"]
    either, same = column.kinds["either"], column.kinds["same"]
    question = f"Dates in “{label}”: which number is the day?"
    options = (
        Option("dmy", "The first: day, month, year", _unfit(month, column.spans["dmy"].words)),
        Option("mdy", "The second: month, day, year", _unfit(day, column.spans["mdy"].words)),
        Option(STANDS, "Leave them as they are written"),
    )
    if form.startswith("%") and _follow(column, form):
        reason = f"The dictionary wants them as {form}, and so they are written."
        return Choice(question, STANDS, reason, 0.95, options)
    if day and month:
        reason = (
            f"They are mixed: {day:,} can only have the day first ({column.shown('day first')}),"
            f" {month:,} only the month ({column.shown('month first')}), and {either:,} could be"
            " either. Nothing but the sheet of paper tells; what does not fit is left as it stands."
        )
        return Choice(question, "", reason, 0.0, options, rejects_last=True)
    if day or month:
        value, kind, said = ("dmy", "day first", "day") if day else ("mdy", "month first", "month")
        reason = (
            f"{day or month:,} can only have the {said} first, such as {column.shown(kind)};"
            f" {either:,} could be either."
        )
        return Choice(question, value, reason + _short(column), 0.95, options, rejects_last=True)
    if either:
        reason = (
            f"Every one of {either + same:,} dates could be either, such as"
            f" {column.shown('either')}. Beside each choice stands what they would be; the file"
            " does not say, whoever wrote it must."
        )
        return Choice(question, "", reason + _short(column), 0.0, options)
    if same:
        reason = f"Day and month are the same number in each, such as {column.shown('same')}."
        reason += _short(column)
        return Choice(question, "dmy", reason, 0.9, options)
    reason = f"They are no days of the calendar, such as {column.shown('no day')}."
    return Choice(question, STANDS, reason, 0.6, options)


def _sure_choice(label: str, column: Column, form: str) -> Choice | None:
    """Propose to write days anew that can be read in one way only."""
    count = column.count(SURE_DAYS)
    if not count:
        return None
    question = f"Dates in “{label}” can be read in one way only. Write them year, month, day?"
    options = (Option("ymd", "Yes"), Option(STANDS, "Leave them as they are written"))
    if form.startswith("%") and _follow(column, form):
        reason = f"The dictionary wants them as {form}, and so they are written."
        return Choice(question, STANDS, reason, 0.95, options)
    reason = (
        f"{count:,} have the year first or the month in words, such as {column.shown(*SURE_DAYS)}."
    )
    return Choice(question, "ymd", reason + _short(column), 0.95, options)


def _short(column: Column) -> str:
    if not column.short_years:
        return ""
    return f" {column.short_years:,} have a year of two digits, which is read as one after 2000."


def _follow(column: Column, form: str) -> bool:
    texts = [text for kind in DAYS | SURE_DAYS for _, text in column.examples.get(kind, ())]
    for text in texts:
        try:
            datetime.strptime(text, form)  # noqa: DTZ007  # why: a cell names no zone
        except ValueError:
            return False
    return bool(texts)


def _unfit(count: int, before: str = "") -> str:
    unfit = f"{count:,} would not fit and stay as they are" if count else ""
    return "; ".join(filter(None, (before, unfit)))


def serial_choice(label: str, column: Column, kind: str, *, system: str | None) -> Choice | None:
    """Propose from when days are counted that stand as plain numbers; None where none do."""
    count = column.count(COUNTED)
    if kind not in {"date", "datetime"} or not count or column.outside:
        return None
    question = f"The column “{label}” holds days as numbers. From when are they counted?"
    options = (
        Option("serial-1900", "From 1900, as most workbooks count"),
        Option("serial-1904", "From 1904, as older Macintosh workbooks count"),
        Option(STANDS, "They are no days; leave them"),
    )
    seen = column.shown(*COUNTED)
    if system is None:
        reason = f"{count:,} cells hold a number, such as {seen}. A text does not say from when."
        return Choice(question, "", reason, 0.0, options)
    reason = f"{count:,} cells hold a plain number, such as {seen}; the workbook counts from then."
    return Choice(question, system, reason, 0.85, options)


def swap_choice(label: str, column: Column) -> Choice | None:
    """Ask whether a workbook took the day for the month; None where nothing speaks for it.

    Notes
    -----
    A workbook of another country turns 03/04 into a day of its own and leaves 24/11, which it
    cannot read, as text. Then every day of its own is early in its month, and every text is not.
    By chance one day is up to the twelfth in 12 of 30.44 cases.
    """
    own = column.count(("date", "moment"))
    texts = column.kinds["day first"] or column.kinds["month first"]
    if not texts or own < _FEWEST or column.late_days or column.count(("either", "same")):
        return None
    question = f"Did the workbook take the day for the month in “{label}”?"
    options = (
        Option("swap", "Yes: change day and month of the workbook’s own dates back"),
        Option(STANDS, "No: its own dates are right"),
    )
    chance = (12 / 30.44) ** own
    reason = (
        f"Each of its {own:,} own dates, such as {column.shown('date', 'moment')}, is in the first"
        f" twelve days of a month, which is chance in {chance:.2g} of cases; {texts:,} dates that"
        f" cannot be read so, such as {column.shown('day first', 'month first')}, stayed text. It"
        " looks so when a workbook of another country reads dates. Only the sheet of paper tells."
    )
    return Choice(question, "", reason, 0.0, options, rejects_last=True)


def clock_choice(label: str, column: Column, kind: str) -> Choice | None:
    """Propose to write times of day in full; None where there are none, or all are."""
    clocks = column.kinds["clock"]
    if kind != "time" or not clocks:
        return None
    question = f"Write the times of day in “{label}” with hours, minutes and seconds?"
    options = (Option("full", "Yes: 9:05 becomes 09:05:00"), Option(STANDS, "No"))
    reason = f"{clocks:,} are written as text, such as {column.shown('clock')}."
    return Choice(question, "full", reason, 0.9, options)


def decimal_choice(label: str, column: Column, *, is_number: bool) -> Choice | None:
    """Propose how commas in the numbers of a column are read; None where there are none."""
    commas = column.count(COMMAS)
    if not commas or not is_number:
        return None
    sure = column.kinds["comma"] + column.kinds["points and comma"]
    grouped = column.kinds["commas and point"]
    question = f"What is the comma in the numbers of “{label}”?"
    options = (
        Option("comma", "The decimal sign: 12,5 is twelve and a half", _unfit(grouped)),
        Option("group", "The mark between thousands: 1,250 is 1250", _unfit(sure)),
        Option(STANDS, "Leave it as it is written"),
    )
    points = column.kinds["point"]
    if sure and not grouped:
        reason = (
            f"{commas:,} of {column.filled:,} cells have one, such as"
            f" {column.shown('comma', 'points and comma')}."
        )
        if points:
            reason += f" {points:,} have a point instead, such as {column.shown('point')}."
        return Choice(question, "comma", reason, 0.6 if points else 0.95, options)
    if grouped and not sure:
        reason = f"It stands before each three digits, such as {column.shown('commas and point')}."
        return Choice(question, "group", reason, 0.9, options)
    if sure and grouped:
        reason = (
            f"Both are there: {column.shown('comma', 'points and comma')} and"
            f" {column.shown('commas and point')}."
        )
        return Choice(question, "", reason, 0.0, options, rejects_last=True)
    reason = (
        f"Each stands before exactly three digits, such as {column.shown('thousand')}: that may be"
        " a number over a thousand, or three decimals. The file does not say."
    )
    return Choice(question, "", reason, 0.0, options)


def pad_choice(label: str, column: Column, digits: int) -> Choice | None:
    """Propose to give back the leading zeros that a spreadsheet took; None where none are due."""
    count = column.count(("integer", "compact", "whole"))
    if not digits or not count or column.values is None:
        return None
    short = sum(
        many for text, many in column.values.items() if text.isdigit() and len(text) < digits
    )
    if not short:
        return None
    question = f"Codes in “{label}” are shorter than the dictionary’s. Fill them up with zeros?"
    options = (
        Option(str(digits), f"Yes, to {digits} digits"),
        Option(STANDS, "No, leave them"),
    )
    reason = (
        f"{short:,} of them, such as {column.shown('whole', 'integer')}, have fewer than {digits}"
        " digits: a spreadsheet drops zeros at the front of what it takes for a number."
    )
    return Choice(question, str(digits), reason, 0.8, options)
