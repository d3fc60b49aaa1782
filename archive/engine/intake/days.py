"""Days and times of day as people write them, and as workbooks count them."""

import re
from datetime import datetime, time, timedelta

_ISO = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:[T ]([0-9]{2}:[0-9]{2}(?::[0-9]{2})?)\S*)?")
_ANY = re.IGNORECASE
_TIME = r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?(?: ?([ap])\.?m\.?)?"
_AFTER = rf"(?:[ T,]+{_TIME})?"
_WEEKDAY = r"(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]{0,6}\.?,? +)?"
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = r"(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]{0,6}\.?"
_YEAR_FIRST = re.compile(rf"([0-9]{{4}})([/.\- ])([0-9]{{1,2}})\2([0-9]{{1,2}}){_AFTER}", _ANY)
_PARTS = re.compile(
    rf"{_WEEKDAY}([0-9]{{1,2}})([/.\- ])([0-9]{{1,2}})\2([0-9]{{4}}|[0-9]{{2}}){_AFTER}",
    _ANY,
)
_DAY_NAMED = re.compile(
    rf"{_WEEKDAY}([0-9]{{1,2}})(?:st|nd|rd|th)?[ \-./]*(?:of )?{_MONTH}[ \-./,]*"
    rf"([0-9]{{4}}|[0-9]{{2}}){_AFTER}",
    _ANY,
)
_MONTH_NAMED = re.compile(
    rf"{_WEEKDAY}{_MONTH}[ \-./]*([0-9]{{1,2}})(?:st|nd|rd|th)?(?:, *| +|-)([0-9]{{4}}){_AFTER}",
    _ANY,
)
COMPACT = re.compile(r"(?:19|20)[0-9]{6}")
_CLOCK = re.compile(_TIME, _ANY)
_FULL = re.compile(r"[0-9]{2}:[0-9]{2}:[0-9]{2}")


def kind_of_day(text: str) -> str:
    """Say of which kind a text is that may be a day or a time of day; "text" where it is none."""
    if iso := _ISO.fullmatch(text):
        is_day = _moment(int(iso[1]), int(iso[2]), int(iso[3])) is not None
        return ("iso time" if iso[4] else "iso") if is_day else "no day"
    if _CLOCK.fullmatch(text):
        return "full clock" if _FULL.fullmatch(text) else "clock"
    if not 6 <= len(text) <= 40 or not any(sign.isdigit() for sign in text):
        return "text"
    if parts := _PARTS.fullmatch(text):
        return _order_of(int(parts[1]), int(parts[3]))
    for pattern, kind in (
        (_YEAR_FIRST, "year first"),
        (_DAY_NAMED, "named"),
        (_MONTH_NAMED, "named"),
    ):
        if pattern.fullmatch(text):
            return kind if day_of(text, "ymd") else "no day"
    return "text"


def _order_of(first: int, second: int) -> str:
    day_first = 1 <= first <= 31 and 1 <= second <= 12
    month_first = 1 <= second <= 31 and 1 <= first <= 12
    if day_first and month_first:
        return "same" if first == second else "either"
    return "day first" if day_first else "month first" if month_first else "no day"


def day_of(text: str, order: str) -> datetime | None:
    """Give the moment that a text says, None where it is none by that order.

    Parameters
    ----------
    text : str
        A day, with or without a clock time. A year of two digits is of this century.
    order : str
        "dmy" or "mdy" for days in three numbers; with "ymd" those are none. Days with the year
        first, with the month in words, or of eight digits are read by every order.

    Examples
    --------
    >>> day_of("3/4/26", "dmy"), day_of("3/4/26", "ymd")
    (datetime.datetime(2026, 4, 3, 0, 0), None)
    >>> day_of("Tue 24 Nov 2026, 9:05 pm", "ymd")
    datetime.datetime(2026, 11, 24, 21, 5)
    """
    if parts := _PARTS.fullmatch(text):
        if order == "ymd":
            return None
        first, second = int(parts[1]), int(parts[3])
        month, day = (second, first) if order == "dmy" else (first, second)
        return _moment(_year(parts[4]), month, day, *parts.group(5, 6, 7, 8))
    if found := _YEAR_FIRST.fullmatch(text):
        return _moment(int(found[1]), int(found[3]), int(found[4]), *found.group(5, 6, 7, 8))
    if found := _DAY_NAMED.fullmatch(text):
        month = _MONTHS.index(found[2].casefold()) + 1
        return _moment(_year(found[3]), month, int(found[1]), *found.group(4, 5, 6, 7))
    if found := _MONTH_NAMED.fullmatch(text):
        month = _MONTHS.index(found[1].casefold()) + 1
        return _moment(_year(found[3]), month, int(found[2]), *found.group(4, 5, 6, 7))
    if COMPACT.fullmatch(text):
        return _moment(int(text[:4]), int(text[4:6]), int(text[6:]))
    return None


def has_short_year(text: str) -> bool:
    """Whether a day in numbers or words has a year of two digits."""
    found = _PARTS.fullmatch(text)
    named = _DAY_NAMED.fullmatch(text)
    return (found is not None and len(found[4]) == 2) or (named is not None and len(named[3]) == 2)


def _year(text: str) -> int:
    return int(text) + (2000 if len(text) == 2 else 0)


def _moment(
    year: int,
    month: int,
    day: int,
    hour: str | None = None,
    minute: str | None = None,
    second: str | None = None,
    half: str | None = None,
) -> datetime | None:
    """Build a moment; None where the calendar or the clock has none such."""
    hours = _hours(int(hour or 0), half)
    try:
        return datetime(year, month, day, hours, int(minute or 0), int(second or 0))  # noqa: DTZ001  # why: a cell names no zone
    except ValueError:
        return None


def _hours(hour: int, half: str | None) -> int:
    if half is None:
        return hour
    if not 1 <= hour <= 12:
        return 99
    return hour % 12 + (12 if half in "pP" else 0)


def clock_of(text: str) -> time | None:
    """Give the time of day that a text says; None where it is none.

    Examples
    --------
    >>> clock_of("9:05 pm"), clock_of("25:00")
    (datetime.time(21, 5), None)
    """
    found = _CLOCK.fullmatch(text)
    moment = _moment(2000, 1, 1, *found.group(1, 2, 3, 4)) if found else None
    return None if moment is None else moment.time()


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
    ISO/IEC 29500-1 (ECMA-376 part 1), 18.17.4.1, for both systems and for the leap year that
    1900 was not.

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
    return rounded(first + timedelta(days=serial))


def rounded(moment: datetime) -> datetime:
    """Give a moment to its nearest millisecond."""
    # A workbook's moment is a binary fraction of a day: off by a few microseconds.
    near = moment + timedelta(microseconds=500)
    return near.replace(microsecond=near.microsecond // 1000 * 1000)
