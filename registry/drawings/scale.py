"""Days to pixels, and the ticks that a reader needs at that length of time."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

WEEKS_UP_TO_D = 75
MONTHS_UP_TO_D = 5 * 366
QUARTERS_UP_TO_D = 14 * 366
NARROWEST_D = 30
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_said(day: date, *, year: bool = True) -> str:
    """Write a day as people here write it.

    Parameters
    ----------
    day : date
    year : bool
        Whether the year is said.

    Examples
    --------
    >>> day_said(date(2024, 3, 3))
    '3 Mar 2024'
    """
    said = f"{day.day} {MONTHS[day.month - 1]}"
    return f"{said} {day.year}" if year else said


@dataclass(frozen=True, slots=True)
class TimeTick:
    """A tick on a time axis; a labelled one opens a year (or a month on a short axis)."""

    on: date
    label: str


@dataclass(frozen=True, slots=True)
class TimeScale:
    """A straight axis of days.

    Parameters
    ----------
    start, end : date
        First and last day; widened to thirty days when they lie closer.
    left, right : float
        Where they stand, in pixels.
    """

    start: date
    end: date
    left: float
    right: float

    @classmethod
    def over(cls, start: date, end: date, left: float, right: float) -> "TimeScale":
        """Lay an axis over the two days, widened, mostly ahead, when they lie too close to draw."""
        short_d = NARROWEST_D - (end - start).days
        if short_d > 0:
            start -= timedelta(days=short_d // 6)
            end += timedelta(days=short_d - short_d // 6)
        return cls(start, end, left, right)

    @property
    def days(self) -> int:
        """The length of the axis in days."""
        return (self.end - self.start).days

    def x(self, day: date) -> float:
        """Place a day, in pixels; a day off the axis stands at its end."""
        share = (day - self.start).days / self.days
        return self.left + (self.right - self.left) * min(max(share, 0.0), 1.0)

    def ticks(self) -> Iterator[TimeTick]:
        """Yield the ticks inside the axis, oldest first."""
        if self.days <= WEEKS_UP_TO_D:
            yield from self._weeks()
            return
        if self.days <= MONTHS_UP_TO_D:
            step = 1
        elif self.days <= QUARTERS_UP_TO_D:
            step = 3
        else:
            step = 12
        years = 1 + self.days // (366 * 40)
        for year in range(self.start.year, self.end.year + 1):
            for month in range(1, 13, step):
                day = date(year, month, 1)
                if self.start < day <= self.end:
                    opens = month == 1 and year % years == 0
                    yield TimeTick(day, str(year) if opens else "")

    def _weeks(self) -> Iterator[TimeTick]:
        for offset in range(1, self.days + 1):
            day = self.start + timedelta(days=offset)
            if day.day == 1:
                yield TimeTick(day, f"{MONTHS[day.month - 1]} {day.year}")
            elif day.weekday() == 0:
                yield TimeTick(day, "")

    @property
    def opening(self) -> str:
        """The word that stands at the left end, before any labelled tick."""
        if self.days <= WEEKS_UP_TO_D:
            return f"{MONTHS[self.start.month - 1]} {self.start.year}"
        return str(self.start.year)
