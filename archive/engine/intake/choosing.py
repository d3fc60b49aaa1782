"""The per-column decisions: which field it is, and how its days, decimals and codes are read."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from archive.engine.intake.decisions import FIELD, LEAVE, OWN, Option
from archive.engine.intake.names import Namesake
from archive.engine.intake.profile import COMMAS, DAYS, Column

SURE = 0.55
"""A match below this is told, not proposed."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A proposal for one decision before answers and last time's are heard."""

    question: str
    chosen: str
    reason: str
    confidence: float
    options: tuple[Option, ...]
    rejects_last: bool = False


@dataclass(frozen=True, slots=True)
class Match:
    """A column and a field that may be one."""

    column: int
    field: int
    score: float
    reason: str


def matches_of(
    labels: Sequence[str], columns: Sequence[Column], fields: Sequence[Namesake]
) -> dict[int, Match]:
    """Match columns to fields by name and by content; each field goes to one column.

    Notes
    -----
    The name counts for 0.8 of the score and the share of cells that fit the field for 0.2; where
    less than half of the cells fit, the score is halved. Without any likeness of names, codes of
    the dictionary that nearly all cells hold make a match of 0.6. The weights are a house rule.
    """
    rated = []
    for at, (label, column) in enumerate(zip(labels, columns, strict=True)):
        for number, field in enumerate(fields):
            score, reason = _rated(label, column, field)
            if score > 0.2:
                rated.append(Match(at, number, score, reason))
    taken: dict[int, Match] = {}
    used: set[int] = set()
    for match in sorted(rated, key=lambda one: (-one.score, one.column, one.field)):
        if match.column not in taken and match.field not in used:
            taken[match.column] = match
            used.add(match.field)
    return taken


def _rated(label: str, column: Column, field: Namesake) -> tuple[float, str]:
    like, why = field.likeness(label)
    fit = column.fit(field)
    if not like:
        if field.codes and column.filled and fit >= 0.9:
            return 0.6, f"no likeness of names, but its cells hold the codes of {field.name}"
        return 0.0, ""
    score = 0.8 * like + 0.2 * fit
    told = f"{why}; {fit:.0%} of its cells fit {_a(field.type)}" if column.filled else why
    if fit < 0.5:
        score *= 0.5 if like < 0.9 else 0.75
    return score, told


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def column_choice(
    label: str, position: int, column: Column, fields: Sequence[Namesake], match: Match | None
) -> Choice:
    """Propose what becomes of one column."""
    own = [Option(OWN, "Keep it under its own name")] if label else []
    options = (
        *(Option(f"{FIELD}{one.name}", f"{one.name}{_titled(one)}") for one in fields),
        *own,
        Option(LEAVE, "Leave it out"),
    )
    named = f"“{label}”" if label else f"{position + 1}, which has no heading,"
    question = f"What is the column {named} in the dictionary?"
    if not fields:
        question = f"What becomes of the column {named}?"
        if label:
            return Choice(question, OWN, "There is no dictionary; it keeps its name.", 0.9, options)
    if not label and not column.filled:
        return Choice(question, LEAVE, "It has no heading and holds nothing.", 0.95, options)
    if match is None:
        return Choice(question, "", "No field of the dictionary is like it.", 0.0, options)
    field = fields[match.field]
    if match.score < SURE:
        reason = f"It may be {field.name} ({match.reason}), but that is not sure."
        return Choice(question, "", reason, match.score, options)
    return Choice(
        question, f"{FIELD}{field.name}", f"{match.reason}.".capitalize(), match.score, options
    )


def _titled(field: Namesake) -> str:
    return f" ({field.title})" if field.title and field.title != field.name else ""


def dates_choice(
    label: str, column: Column, kind: str, form: str, *, system: str | None
) -> Choice | None:
    """Propose how the days of a column are read; None where there is nothing to decide."""
    if column.count(("day first", "month first", "either", "same", "no day")):
        return _order_choice(label, column, form)
    numbers = ("integer", "whole", "number", "point")
    count = column.count(numbers)
    if kind not in {"date", "datetime"} or not count or column.outside:
        return None
    question = f"The column “{label}” holds days as numbers. From when are they counted?"
    options = (
        Option("serial-1900", "From 1900, as most workbooks count"),
        Option("serial-1904", "From 1904, as older Macintosh workbooks count"),
        Option("as it stands", "They are no days; leave them"),
    )
    seen = column.shown(*numbers)
    if system is None:
        reason = f"{count:,} cells hold a number, such as {seen}. A text does not say from when."
        return Choice(question, "", reason, 0.0, options)
    reason = f"{count:,} cells hold a plain number, such as {seen}; the workbook counts from then."
    return Choice(question, system, reason, 0.85, options)


def _order_choice(label: str, column: Column, form: str) -> Choice:
    day, month = column.kinds["day first"], column.kinds["month first"]
    either, same = column.kinds["either"], column.kinds["same"]
    question = f"Dates in “{label}”: which number is the day?"
    options = (
        Option("dmy", "The first: day, month, year", _unfit(month + column.kinds["no day"])),
        Option("mdy", "The second: month, day, year", _unfit(day + column.kinds["no day"])),
        Option("as it stands", "Leave them as they are written"),
    )
    if form.startswith("%") and _follow(column, form):
        reason = f"The dictionary wants them as {form}, and so they are written."
        return Choice(question, "as it stands", reason, 0.95, options)
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
        return Choice(question, value, reason, 0.95, options, rejects_last=True)
    if either:
        reason = (
            f"Every one of {either + same:,} dates could be either, such as"
            f" {column.shown('either')}. The file does not say; whoever wrote it must."
        )
        return Choice(question, "", reason, 0.0, options)
    if same:
        reason = f"Day and month are the same number in each, such as {column.shown('same')}."
        return Choice(question, "dmy", reason, 0.9, options)
    reason = f"They are no days of the calendar, such as {column.shown('no day')}."
    return Choice(question, "as it stands", reason, 0.6, options)


def _follow(column: Column, form: str) -> bool:
    texts = [text for kind in DAYS for _, text in column.examples.get(kind, ())]
    for text in texts:
        try:
            datetime.strptime(text, form)  # noqa: DTZ007  # why: a cell names no zone
        except ValueError:
            return False
    return bool(texts)


def _unfit(count: int) -> str:
    return f"{count:,} would not fit and stay as they are" if count else ""


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
        Option("as it stands", "Leave it as it is written"),
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
    count = column.count(("integer", "whole"))
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
        Option("as it stands", "No, leave them"),
    )
    reason = (
        f"{short:,} of them, such as {column.shown('whole', 'integer')}, have fewer than {digits}"
        " digits: a spreadsheet drops zeros at the front of what it takes for a number."
    )
    return Choice(question, str(digits), reason, 0.8, options)
