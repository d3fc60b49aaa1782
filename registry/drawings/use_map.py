"""The use map: animals by weeks, tone by contacts, a numbered diamond for each breach."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby

from registry.drawings.ink import (
    box,
    breadth,
    diamond,
    fitted,
    hatched,
    n,
    sheet,
    stroke,
    text,
    told_apart,
)
from registry.drawings.scale import MONTHS, day_said

WIDTH = 1168
SMALL_WIDTH = 358
NAMES = 132
SMALL_NAMES = 104
TOTALS = 52
SMALL_TOTALS = 34
TOP = 34
PITCH = 21
CELL = 17
GROUP_HEAD = 30
MOST_WEEKS = 106
SMALL_WEEKS = 24
ROWS_A_PAGE = 40

TONES = ((1, "p2", "1"), (2, "p3", "2"), (4, "p4", "3 or 4"))
MOST = ("p5", "5 or more")


@dataclass(frozen=True, slots=True)
class UseRow:
    """One animal, group or tank over the weeks.

    Parameters
    ----------
    group : str
        The heading it stands under ("Undulate rays"); rows of a group must lie together.
    name : str
    contacts : tuple of int
        Hands-on contacts in each week, oldest first.
    restricted : tuple of (int, int)
        First and last week of each restriction, counted from 0, both included.
    breaches : tuple of (int, int)
        Week, counted from 0, and number of each breach.
    url : str
    """

    group: str
    name: str
    contacts: tuple[int, ...]
    restricted: tuple[tuple[int, int], ...] = ()
    breaches: tuple[tuple[int, int], ...] = ()
    url: str = ""

    @property
    def total(self) -> int:
        """Contacts in all the weeks."""
        return sum(self.contacts)

    @property
    def weeks_used(self) -> int:
        """Weeks with a contact."""
        return sum(count > 0 for count in self.contacts)

    @property
    def most(self) -> int:
        """Contacts in the busiest week."""
        return max(self.contacts, default=0)


@dataclass(frozen=True, slots=True)
class UseMap:
    """A drawn map and the same facts as tables.

    `months` and `by_month` count a week in the month in which it begins, over every row that was
    given; the last row of `by_month` is the sum.
    """

    large: str
    small: str
    label: str
    small_note: str
    shown: tuple[UseRow, ...]
    page: int
    pages: int
    of: int
    months: tuple[str, ...]
    by_month: tuple[tuple[str, tuple[int, ...], int], ...]
    left_out_weeks: int = 0
    key: tuple[tuple[str, str], ...] = field(
        default=(*((paint, said) for _, paint, said in TONES), MOST)
    )


def use_map(
    rows: Sequence[UseRow],
    first_monday: date,
    *,
    page: int = 1,
    rows_a_page: int = ROWS_A_PAGE,
    of: int | None = None,
) -> UseMap:
    """Draw the use of animals by weeks.

    Parameters
    ----------
    rows : sequence of UseRow
        All of one length in weeks.
    first_monday : date
        The first day of week 0.
    page : int
        Which page of rows, counted from 1; a page past the end shows the last.
    rows_a_page : int
        How many rows a page holds.
    of : int, optional
        How many rows there are on all pages, where `rows` are those of this page alone.

    Returns
    -------
    UseMap
        The drawing holds the latest 106 weeks, the small one the latest 24.

    Raises
    ------
    ValueError
        When the rows differ in length.
    """
    weeks = {len(row.contacts) for row in rows} or {0}
    if len(weeks) > 1:
        raise ValueError(f"rows must cover the same weeks; they cover {sorted(weeks)}")
    count = weeks.pop()
    whole = len(rows) if of is None else of
    pages = max(1, -(-whole // rows_a_page))
    page = min(max(page, 1), pages)
    shown = tuple(rows[(page - 1) * rows_a_page : page * rows_a_page] if of is None else rows)
    last = first_monday + timedelta(days=7 * max(count, 1) - 1)
    label = (
        f"Hands-on contacts of {len(shown)} animals and tanks by week, "
        f"{day_said(first_monday)} to {day_said(last)}; the tables below give the same"
    )
    narrow = max(0, count - SMALL_WEEKS)
    wide = max(0, count - MOST_WEEKS)
    months, by_month = _by_month(rows, first_monday, count)
    narrow_from = day_said(first_monday + timedelta(weeks=narrow))
    return UseMap(
        large=_map(shown, first_monday, wide, count, label, is_small=False),
        small=_map(shown, first_monday, narrow, count, label, is_small=True),
        label=label,
        small_note=f"From {narrow_from}; the tables hold all." if narrow else "",
        shown=shown,
        page=page,
        pages=pages,
        of=whole,
        months=months,
        by_month=by_month,
        left_out_weeks=wide,
    )


def _tone(count: int) -> str:
    return next((paint for most, paint, _ in TONES if count <= most), MOST[0])


def _map(
    rows: Sequence[UseRow], monday: date, since: int, count: int, label: str, *, is_small: bool
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    names = SMALL_NAMES if is_small else NAMES
    step = (width - names - (SMALL_TOTALS if is_small else TOTALS)) / max(count - since, 1)
    step = min(step, 22.0)
    pen = _Pen(width, names, step, since, count)
    strokes: list[str] = []
    y = float(TOP)
    for group, members in groupby(rows, key=lambda row: row.group):
        here = list(members)
        strokes.append(stroke(f"M0 {n(y)}H{width}", "k1"))
        strokes.append(text(0, y + 18, fitted(group, width - 60), "ts"))
        whole = sum(row.total for row in here)
        strokes.append(text(width, y + 18, str(whole), "tq e"))
        y += GROUP_HEAD
        for row in here:
            strokes += pen.row(row, y)
            y += PITCH
        y += 4
    strokes.append(stroke(f"M0 {n(y)}H{width}", "k1"))
    months = list(_months(pen, monday, y, is_small=is_small))
    return sheet(width, y + 4, [*months, *strokes], "small" if is_small else "large", label)


@dataclass(frozen=True, slots=True)
class _Pen:
    width: float
    names: float
    step: float
    since: int
    count: int

    def x(self, week: float) -> float:
        """Place the left edge of a week."""
        return self.names + (week - self.since) * self.step

    def row(self, row: UseRow, y: float) -> Iterator[str]:
        """Draw one animal."""
        yield text(0, y + CELL / 2 + 4.5, told_apart(row.name, self.names - 8), "tx")
        gap = 1.5 if self.step > 8 else 0.75
        barred: set[int] = set()
        for begun, ended in row.restricted:
            first, last = max(begun, self.since), min(ended, self.count - 1)
            if first <= last:
                barred.update(range(first, last + 1))
                long = (last + 1 - first) * self.step - gap
                yield hatched(self.x(first), y, long, CELL, "hatch-fine")
        for week in range(self.since, self.count):
            if contacts := row.contacts[week]:
                yield box(self.x(week), y, self.step - gap, CELL, _tone(contacts))
            elif week not in barred:
                middle = self.x(week) + (self.step - gap) / 2
                yield stroke(f"M{n(middle - 1)} {n(y + CELL / 2)}h2", "kr")
        yield text(self.width, y + CELL / 2 + 4.5, str(row.total), "tb e")
        yield from self._breaches(row, y)

    def _breaches(self, row: UseRow, y: float) -> Iterator[str]:
        taken = 0.0
        for week, number in sorted(row.breaches):
            if not self.since <= week < self.count:
                continue
            x = max(self.x(week) + self.step / 2, taken + 22)
            x = min(x, self.width - 40)
            yield diamond(x, y + CELL / 2, 12, "ho")
            yield text(x, y + CELL / 2 + 4.5, str(number), "tb m")
            taken = x


def _months(pen: _Pen, monday: date, foot: float, *, is_small: bool) -> Iterator[str]:
    total = "all" if is_small else "contacts"
    clear, limit = pen.names - 6, pen.width - 1.2 * breadth(total) - 4  # bold is broader
    first = monday + timedelta(weeks=pen.since)
    last = monday + timedelta(weeks=pen.count)
    year, month = first.year, first.month
    while date(year, month, 1) < last:
        opens = date(year, month, 1)
        following = date(year + month // 12, month % 12 + 1, 1)
        if opens < first:
            room = (following - first).days / 7 * pen.step
            if breadth(MONTHS[month - 1]) + 8 < room:
                yield text(pen.names, 22, MONTHS[month - 1], "tx")
        else:
            x = pen.x((opens - monday).days / 7)
            label = MONTHS[month - 1] if month > 1 else f"Jan {year}"
            yield stroke(f"M{n(x)} 12V{n(foot)}", "kr")
            if x > clear and x + 4 + breadth(label) < limit:
                yield text(x + 4, 22, label, "tx")
                clear = x + 4 + breadth(label)
        year, month = following.year, following.month
    yield text(pen.width, 22, total, "tb e")


def _by_month(
    rows: Sequence[UseRow], monday: date, count: int
) -> tuple[tuple[str, ...], tuple[tuple[str, tuple[int, ...], int], ...]]:
    keys = [
        (day.year, day.month) for day in (monday + timedelta(weeks=week) for week in range(count))
    ]
    months = list(dict.fromkeys(keys))
    of_week = [months.index(key) for key in keys]
    sums: dict[str, list[int]] = {}
    for row in rows:
        cells = sums.setdefault(row.group, [0] * len(months))
        for week, contacts in enumerate(row.contacts):
            cells[of_week[week]] += contacts
    whole = [sum(column) for column in zip(*sums.values(), strict=True)] if sums else []
    table = [(group, tuple(cells), sum(cells)) for group, cells in sums.items()]
    if table:
        table.append(("All", tuple(whole), sum(whole)))
    several = len({year for year, _ in months}) > 1
    said = tuple(
        f"{MONTHS[month - 1]} {year}" if several else MONTHS[month - 1] for year, month in months
    )
    return said, tuple(table)
