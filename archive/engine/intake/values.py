"""Cells: of which kind each is, and how it is written by a rule; what does not fit is left."""

import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta

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
_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2})?)\S*)?")
_YEAR_FIRST = re.compile(r"([0-9]{4})[/.]([0-9]{1,2})[/.]([0-9]{1,2})")
_PARTS = re.compile(
    r"([0-9]{1,2})([/.\- ])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})"
    r"(?:[ T]+([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?)?"
)
_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?")
_GROUPS = str.maketrans("", "", ".'  ")


def kind_of(cell: Cell) -> str:
    """Say of which kind a cell is.

    Returns
    -------
    str
        "blank", "missing", "error", "integer", "point", "comma", "thousand" (a comma before
        exactly three digits, which may mean either), "points and comma", "commas and point",
        "iso", "iso time", "day first", "month first", "either", "no day", "clock" or "text"; of a
        workbook's own values "number", "whole", "date", "moment", "time" and "boolean".

    Examples
    --------
    >>> [kind_of(one) for one in ("24/11/2026", "11/24/2026", "03/04/2026", "12,5", "1,250")]
    ['day first', 'month first', 'either', 'comma', 'thousand']
    """
    if isinstance(cell, str):
        return _kind_of_text(cell.strip())
    if isinstance(cell, bool):
        return "boolean"
    if isinstance(cell, int | float):
        return "whole" if float(cell).is_integer() else "number"
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
        return "missing" if text.casefold() in MISSING else "text"
    if _INT.fullmatch(text):
        return "integer"
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
    if iso := _ISO.fullmatch(text):
        return "iso time" if iso[4] else "iso"
    if _CLOCK.fullmatch(text):
        return "clock"
    if parts := _PARTS.fullmatch(text):
        return _order_of(int(parts[1]), int(parts[3]))
    return "missing" if text.casefold() in MISSING else "text"


def _order_of(first: int, second: int) -> str:
    day_first = 1 <= first <= 31 and 1 <= second <= 12
    month_first = 1 <= second <= 31 and 1 <= first <= 12
    if day_first and month_first:
        return "same" if first == second else "either"
    return "day first" if day_first else "month first" if month_first else "no day"


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
        return cell.date().isoformat() if is_day else _to_second(cell).isoformat()
    if isinstance(cell, time):
        return _clock(cell.hour * 3600 + cell.minute * 60 + cell.second + cell.microsecond / 1e6)
    if isinstance(cell, timedelta):
        return _clock(cell.total_seconds())
    return str(cell) if isinstance(cell, int) else cell.isoformat()


def _number(value: float) -> str:
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def _to_second(moment: datetime) -> datetime:
    # A workbook's moment is a binary fraction of a day: off by a few microseconds.
    return (moment + timedelta(microseconds=500_000)).replace(microsecond=0)


def _clock(seconds: float) -> str:
    whole = round(seconds)
    return f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


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
    if rule.dates in {"dmy", "mdy"}:
        steps.append(lambda cell: _as_day(cell, rule))
    if rule.dates.startswith("serial"):
        steps.append(lambda cell: _as_serial(cell, rule))
    if rule.decimal:
        steps.append(lambda cell: _as_number(cell, rule.decimal))
    if rule.pad:
        steps.append(lambda cell: _padded(cell, rule.pad))
    if rule.type in {"date", "datetime", "time", "boolean"}:
        steps.append(lambda cell: _typed(cell, rule))

    def write(cell: Cell) -> Written:
        if isinstance(cell, str) and not cell.strip():
            return "", True
        for step in steps:
            written = step(cell)
            if written is not None:
                return written
        return said(cell), True

    return write


def _as_day(cell: Cell, rule: ColumnRule) -> Written | None:
    if not isinstance(cell, str):
        return None
    text = cell.strip()
    if text.casefold() in MISSING:
        return text, True
    parts = _PARTS.fullmatch(text)
    if parts is None:
        if year_first := _YEAR_FIRST.fullmatch(text):
            return _day_said(cell, rule, int(year_first[1]), int(year_first[2]), int(year_first[3]))
        return cell, _ISO.fullmatch(text) is not None
    first, second, year = int(parts[1]), int(parts[3]), int(parts[4])
    if len(parts[4]) == 2:
        year += 2000
    month, day = (second, first) if rule.dates == "dmy" else (first, second)
    clock = (int(parts[5]), int(parts[6]), int(parts[7] or 0)) if parts[5] else None
    return _day_said(cell, rule, year, month, day, clock)


def _day_said(
    cell: str,
    rule: ColumnRule,
    year: int,
    month: int,
    day: int,
    clock: tuple[int, int, int] | None = None,
) -> Written:
    try:
        hour, minute, second = clock or (0, 0, 0)
        moment = datetime(year, month, day, hour, minute, second)  # noqa: DTZ001  # why: a cell names no zone
    except ValueError:
        return cell, False
    return _formatted(moment, rule, has_clock=clock is not None)


def _formatted(moment: datetime, rule: ColumnRule, *, has_clock: bool) -> Written:
    """Write a moment by the field's format; a date field gets no clock taken from it."""
    if rule.type == "date" and has_clock and moment.time() != time():
        return moment.isoformat(), False
    if rule.format.startswith("%"):
        return moment.strftime(rule.format), True
    if rule.type == "datetime" or (rule.type != "date" and has_clock):
        return moment.isoformat(), rule.type != "datetime" or has_clock
    return moment.date().isoformat(), True


def serial_day(serial: float, system: str) -> datetime | None:
    """Give the moment of a serial number.

    Parameters
    ----------
    serial : float
        Days, counted as the workbook counts them.
    system : str
        "serial-1900" or "serial-1904".

    Returns
    -------
    datetime or None
        None for the 29 February 1900 that the first system counts and that never was.

    References
    ----------
    ECMA-376 part 1, 18.17.4.1, for both systems and the leap year that 1900 was not.

    Examples
    --------
    >>> serial_day(61, "serial-1900"), serial_day(60, "serial-1900")
    (datetime.datetime(1900, 3, 1, 0, 0), None)
    >>> serial_day(1, "serial-1904")
    datetime.datetime(1904, 1, 2, 0, 0)
    """
    if system == "serial-1904":
        first = datetime(1904, 1, 1)  # noqa: DTZ001  # why: a cell names no zone
    else:
        if 60 <= serial < 61:
            return None
        first = datetime(1899, 12, 31 if serial < 60 else 30)  # noqa: DTZ001  # why: the same
    return _to_second(first + timedelta(days=serial))


def _as_serial(cell: Cell, rule: ColumnRule) -> Written | None:
    if isinstance(cell, bool) or kind_of(cell) not in {"integer", "point", "whole", "number"}:
        return None if not isinstance(cell, str) else (cell, kind_of(cell) in {"iso", "missing"})
    value = float(cell)  # type: ignore[arg-type]  # why: its kind is that of a number
    if not 0 <= value < SERIALS.stop:
        return said(cell), False
    if rule.type == "time":
        return (_clock(value * 86400), True) if value < 1 else (said(cell), False)
    moment = serial_day(value, rule.dates)
    if moment is None:
        return said(cell), False
    return _formatted(moment, rule, has_clock=not value.is_integer() or rule.type == "datetime")


def _as_number(cell: Cell, decimal: str) -> Written | None:
    if not isinstance(cell, str):
        return None
    text = cell.strip()
    kind = kind_of(text)
    if kind in {"integer", "missing"}:
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
    if kind not in {"integer", "whole"}:
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
        return _formatted(_to_second(cell), rule, has_clock=has_clock)
    if isinstance(cell, date):
        moment = datetime(cell.year, cell.month, cell.day)  # noqa: DTZ001  # why: a cell names no zone
        return _formatted(moment, rule, has_clock=rule.type == "datetime")
    if isinstance(cell, time | timedelta):
        return said(cell), rule.type == "time"
    return said(cell), False
