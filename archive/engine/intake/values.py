"""Cells: of which kind each is, and how it is written by a rule; what does not fit is left."""

import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta

from archive.engine.intake.days import COMPACT, clock_of, day_of, kind_of_day, rounded, serial_day
from archive.engine.intake.recipe import ColumnRule
from registry.guarded.book import Cell

MISSING = frozenset({"na", "n/a", "nan", "null", "none", "-", "--", ".", "?", "missing"})
ERRORS = frozenset(
    {"#N/A", "#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!"}
)
SERIALS = range(1, 80_000)
"""Days that a workbook may count: up to the year 2119."""

_INT = re.compile(r"[+-]?[0-9]{1,30}")
_DOT = re.compile(r"[+-]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?:\.[0-9]*)?[eE][+-]?[0-9]+)")
_COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+(?:[eE][+-]?[0-9]+)?")
_THREE = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
_DOTS_COMMA = re.compile(r"[+-]?[0-9]{1,3}(?:[.  ' ][0-9]{3})+,[0-9]+")
_COMMAS_DOT = re.compile(r"[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]+)?")
_GROUPS = str.maketrans("", "", ".'  ")


def kind_of(cell: Cell) -> str:
    """Say of which kind a cell is.

    Returns
    -------
    str
        "blank", "missing", "error", "integer", "point", "comma", "thousand" (a comma before
        exactly three digits, which may mean either), "points and comma", "commas and point",
        "iso", "iso time", "year first", "named", "compact" (eight digits that are a day), "day
        first", "month first", "either", "same", "no day", "clock", "full clock" or "text"; of a
        workbook's own values "number", "whole", "date", "moment", "time" and "boolean".

    Examples
    --------
    >>> [kind_of(one) for one in ("24/11/2026", "11/24/2026", "03/04/2026", "12,5", "1,250")]
    ['day first', 'month first', 'either', 'comma', 'thousand']
    >>> [kind_of(one) for one in ("2026/11/24", "24 Nov 2026", "20261124", "2026-24-11")]
    ['year first', 'named', 'compact', 'no day']
    """
    if isinstance(cell, str):
        return _kind_of_text(cell.strip())
    if isinstance(cell, bool):
        return "boolean"
    if isinstance(cell, int | float):
        if not float(cell).is_integer():
            return "number"
        return "compact" if _kind_of_text(said(cell)) == "compact" else "whole"
    if isinstance(cell, datetime):
        return "moment" if cell.time() != time() else "date"
    return "date" if isinstance(cell, date) else "time"


def _kind_of_text(text: str) -> str:
    if not text:
        return "blank"
    if text[0] == "#" and text.upper() in ERRORS:
        return "error"
    first = text[0]
    if not (first.isascii() and (first.isdigit() or first in "+-.,")):
        return "missing" if text.casefold() in MISSING else kind_of_day(text)
    if _INT.fullmatch(text):
        return "compact" if COMPACT.fullmatch(text) and day_of(text, "ymd") else "integer"
    if _DOT.fullmatch(text):
        return "point"
    for pattern, kind in (
        (_THREE, "thousand"),
        (_COMMA, "comma"),
        (_DOTS_COMMA, "points and comma"),
        (_COMMAS_DOT, "commas and point"),
    ):
        if pattern.fullmatch(text):
            return kind
    return "missing" if text.casefold() in MISSING else kind_of_day(text)


def said(cell: Cell) -> str:
    """Write a cell as it stands, by no rule but its own type's.

    Examples
    --------
    >>> said(7.0), said(0.5), said(True), said(date(2026, 11, 24))
    ('7', '0.5', 'true', '2026-11-24')
    """
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        return _number(cell)
    if isinstance(cell, datetime):
        is_day = cell.time() == time()
        return cell.date().isoformat() if is_day else _iso(rounded(cell))
    if isinstance(cell, time):
        return _clock(cell.hour * 3600 + cell.minute * 60 + cell.second + cell.microsecond / 1e6)
    if isinstance(cell, timedelta):
        return _clock(cell.total_seconds())
    return str(cell) if isinstance(cell, int) else cell.isoformat()


def _number(value: float) -> str:
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def _iso(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds" if moment.microsecond else "seconds")


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


_MEMO = 20_000
"""Different texts of a column of which the writing is kept."""
type Written = tuple[str, bool]
"""A cell's text, and whether the rule could be followed."""


def writer_of(rule: ColumnRule) -> Callable[[Cell], Written]:
    """Give the function that writes the cells of one column.

    Parameters
    ----------
    rule : ColumnRule
        What becomes of the column.

    Notes
    -----
    A cell that the rule does not fit is written as it stands and told: a conversion never loses or
    bends a value to make it fit.
    """
    steps: list[Callable[[Cell], Written | None]] = []
    memo: dict[str, Written] = {}
    if rule.swap:
        steps.append(lambda cell: _swapped(cell, rule))
    if rule.dates or rule.serial:
        steps.append(lambda cell: _as_day(cell, rule))
    if rule.clock:
        steps.append(_as_clock)
    if rule.decimal:
        steps.append(lambda cell: _as_number(cell, rule.decimal))
    if rule.pad:
        steps.append(lambda cell: _padded(cell, rule.pad))
    if rule.type in {"date", "datetime", "time", "boolean"}:
        steps.append(lambda cell: _typed(cell, rule))

    def write(cell: Cell) -> Written:
        if not isinstance(cell, str):
            return written_of(cell)
        known = memo.get(cell)
        if known is None:
            known = written_of(cell) if cell.strip() else ("", True)
            if len(memo) < _MEMO:
                memo[cell] = known
        return known

    def written_of(cell: Cell) -> Written:
        for step in steps:
            written = step(cell)
            if written is not None:
                return written
        return said(cell), True

    return write


def _as_day(cell: Cell, rule: ColumnRule) -> Written | None:
    """Write a day that stands as text by its order, or as a plain number by its first day."""
    if rule.serial and not isinstance(cell, bool) and kind_of(cell) in _COUNTED:
        return _as_serial(cell, rule)
    if not isinstance(cell, str) and kind_of(cell) != "compact":
        return None
    text = said(cell).strip()
    if text.casefold() in MISSING:
        return text, True
    moment = day_of(text, rule.dates or "ymd") if rule.dates else None
    if moment is not None:
        return _formatted(moment, rule, has_clock=":" in text)
    return said(cell), kind_of(text) in {"iso", "iso time"}


_COUNTED = frozenset({"integer", "point", "whole", "number"})


def _as_clock(cell: Cell) -> Written | None:
    """Write a time of day in full."""
    if not isinstance(cell, str) or kind_of(cell) not in {"clock", "full clock"}:
        return None
    clock = clock_of(cell.strip())
    return (cell, False) if clock is None else (clock.isoformat(), True)


def _swapped(cell: Cell, rule: ColumnRule) -> Written | None:
    """Change day and month of a workbook's own day back, where they can be changed."""
    if not isinstance(cell, date):
        return None
    if cell.day > 12:
        return said(cell), False
    return _typed(cell.replace(month=cell.day, day=cell.month), rule)


def _formatted(moment: datetime, rule: ColumnRule, *, has_clock: bool) -> Written:
    """Write a moment by the field's format; a date field gets no clock taken from it."""
    if rule.type == "date" and has_clock and moment.time() != time():
        return _iso(moment), False
    if rule.format.startswith("%"):
        return moment.strftime(rule.format), True
    if rule.type == "datetime" or (rule.type != "date" and has_clock):
        return _iso(moment), rule.type != "datetime" or has_clock
    return moment.date().isoformat(), True


def _as_serial(cell: Cell, rule: ColumnRule) -> Written:
    value = float(cell)  # type: ignore[arg-type]  # why: its kind is that of a number
    if not 0 <= value < SERIALS.stop:
        return said(cell), False
    if rule.type == "time":
        return (_clock(value * 86400), True) if value < 1 else (said(cell), False)
    moment = serial_day(value, rule.serial)
    if moment is None:
        return said(cell), False
    return _formatted(moment, rule, has_clock=not value.is_integer() or rule.type == "datetime")


def _as_number(cell: Cell, decimal: str) -> Written | None:
    if not isinstance(cell, str):
        return None
    text = cell.strip()
    kind = kind_of(text)
    if kind in {"integer", "compact", "missing"}:
        return text, True
    if decimal == "comma":
        if kind in {"comma", "thousand"}:
            return text.replace(",", "."), True
        if kind == "points and comma":
            return text.translate(_GROUPS).replace(",", "."), True
    elif kind in {"thousand", "commas and point"}:
        return text.replace(",", ""), True
    return (text, True) if kind == "point" else (cell, False)


def _padded(cell: Cell, digits: int) -> Written | None:
    kind = kind_of(cell)
    if kind not in {"integer", "compact", "whole"}:
        return None
    text = said(cell).strip()
    return (text.zfill(digits), True) if text.isdigit() else (text, False)


def _typed(cell: Cell, rule: ColumnRule) -> Written | None:
    """Write a workbook's own value as the field's type and format want it."""
    if isinstance(cell, str):
        return None
    if isinstance(cell, bool):
        if rule.type == "boolean" and rule.words:
            return rule.words[0 if cell else 1], True
        return said(cell), rule.type == "boolean"
    if rule.type == "boolean":
        return said(cell), rule.words == () or said(cell) in rule.words
    if isinstance(cell, datetime):
        has_clock = cell.time() != time() or rule.type == "datetime"
        return _formatted(rounded(cell), rule, has_clock=has_clock)
    if isinstance(cell, date):
        moment = datetime(cell.year, cell.month, cell.day)  # noqa: DTZ001  # why: a cell names no zone
        return _formatted(moment, rule, has_clock=rule.type == "datetime")
    if isinstance(cell, time | timedelta):
        return said(cell), rule.type == "time"
    return said(cell), False
