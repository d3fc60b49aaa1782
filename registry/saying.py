"""Days, times, numbers and lists of names as the reader's language writes them; one place.

The order of a day's parts, the names of months and the marks in a number come from the formats of
the active language (`registry/formats` for our own, Django's for every other). Times are those of
the collection's zone. Data that leave the site never pass through here: they keep ISO 8601 days
and a point in every number.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.formats import date_format, get_format, number_format
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

NO_BREAK = "\u00a0"
_FIRST_GROUPED = 10_000


def here(value: date) -> date:
    """Give the day at the collection; a moment without a zone is taken as it stands."""
    if isinstance(value, datetime):
        return (timezone.localtime(value) if timezone.is_aware(value) else value).date()
    return value


def day_said(value: date, how: str = "") -> str:
    """Write a day: 3 Mar 2024; short leaves the year out, long writes the names out."""
    on = here(value)
    if how == "long":
        long = _long(get_format("DATE_FORMAT"))
        return f"{date_format(on, 'l')} {date_format(on, long)}"
    said = date_format(on, "MONTH_DAY_FORMAT" if how == "short" else "DATE_FORMAT")
    return said.replace(" ", NO_BREAK)


def weekday_said(value: date) -> str:
    """Write a day without its year, with the weekday: Tue 24 Nov."""
    on = here(value)
    return f"{date_format(on, 'D')} {date_format(on, 'MONTH_DAY_FORMAT')}"


def month_said(value: date) -> str:
    """Write a month: November 2026."""
    return date_format(here(value), "YEAR_MONTH_FORMAT")


def time_said(value: datetime) -> str:
    """Write a time of day at the collection: 08:40."""
    at = timezone.localtime(value) if timezone.is_aware(value) else value
    return date_format(at, "TIME_FORMAT")


def moment_said(value: datetime, how: str = "") -> str:
    """Write a moment at the collection: Tue 24 Nov 2026, 08:40; long writes the names out."""
    at = timezone.localtime(value) if timezone.is_aware(value) else value
    if how == "long":
        return f"{day_said(at, 'long')}, {date_format(at, 'TIME_FORMAT')}"
    return date_format(at, "DATETIME_FORMAT")


def _long(form: str) -> str:
    return form.replace("M", "F").replace("N", "F")


def number_said(value: float | Decimal, digits: int | None = None) -> str:
    """Write a number with the language's own marks, its thousands apart from five figures on."""
    is_grouped = abs(float(value)) >= _FIRST_GROUPED
    if digits is not None:
        value = Decimal(f"{value:.{digits}f}")  # Django cuts where it should round
    return number_format(value, digits, use_l10n=True, force_grouping=is_grouped)


def listed(items: Iterable[object], word: str = "and") -> SafeString:
    """Write a list as a sentence does: a, b and c; the last word in the reader's language."""
    rows: Sequence[object] = list(items)
    if len(rows) < 2:
        return format_html("{}", rows[0]) if rows else mark_safe("")
    head = format_html_join(", ", "{}", ((item,) for item in rows[:-1]))
    return format_html("{} {} {}", head, gettext(word), rows[-1])
