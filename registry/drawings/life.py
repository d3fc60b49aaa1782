"""The life strip: lanes of bars and marks for one animal or group, time running right."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from registry.drawings.ink import (
    box,
    breadth,
    diamond,
    dot,
    hatched,
    n,
    sheet,
    stroke,
    text,
)
from registry.drawings.scale import TimeScale, day_said

WIDTH = 1168
SMALL_WIDTH = 358
BAR = 20
PITCH = 24
GAP = 18
LEFT = 132
TOP = 34
SMALL_WINDOW_D = 365


class Tone(StrEnum):
    """How a bar is filled; the words beside the key say what it means."""

    PALE = "pale"
    MID = "mid"
    FINE = "fine"
    HATCHED = "hatched"
    SOLID = "solid"


class Shape(StrEnum):
    """How a moment is marked."""

    TICK = "tick"
    DOT = "dot"
    BREACH = "breach"


WORDS: Mapping[str, str] = {
    Tone.PALE: "lives here",
    Tone.MID: "hospital tank",
    Tone.FINE: "observation only",
    Tone.HATCHED: "keep off",
    Tone.SOLID: "enrolled",
    Shape.TICK: "hands-on contacts",
    Shape.DOT: "events",
    Shape.BREACH: "breach, by number",
}


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time in one lane.

    Parameters
    ----------
    lane : str
        The lane's words ("Restricted").
    begun_on : date
    ended_on : date or None
        None while it lasts.
    tone : Tone
    text : str
        Set inside the bar where it fits.
    what, detail, by, url : str
        The same fact for the table; `what` falls back on lane and text.
    """

    lane: str
    begun_on: date
    ended_on: date | None
    tone: Tone
    text: str = ""
    what: str = ""
    detail: str = ""
    by: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class Moment:
    """A single day in one lane; a breach carries its number."""

    lane: str
    on: date
    shape: Shape = Shape.TICK
    text: str = ""
    number: int | None = None
    what: str = ""
    detail: str = ""
    by: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """One row of the table under the strip."""

    begun_on: date
    ended_on: date | None
    is_lasting: bool
    what: str
    detail: str
    by: str
    url: str
    breach: int | None = None


@dataclass(frozen=True, slots=True)
class LifeStrip:
    """A drawn life: two SVGs, the words for the key, and the same facts latest first."""

    large: str
    small: str
    label: str
    key: tuple[tuple[str, str], ...]
    facts: tuple[Fact, ...]
    small_note: str


def life_strip(
    name: str,
    lanes: Sequence[str],
    spans: Sequence[Span],
    moments: Sequence[Moment],
    start: date,
    end: date,
    today: date,
    words: Mapping[str, str] = WORDS,
) -> LifeStrip:
    """Draw a life between two days.

    Parameters
    ----------
    name : str
        Whose life it is; said to a screen reader.
    lanes : sequence of str
        The lanes from top to bottom; empty ones are drawn too.
    spans, moments : sequences
        What happened; what lies outside the two days stands in the table alone.
    start, end : date
        The first and last day drawn. The small drawing shows the last 365 days of these.
    today : date
        Where the upright stands.
    words : mapping
        What each tone and shape means here.

    Returns
    -------
    LifeStrip
    """
    label = (
        f"Life of {name}, {day_said(start)} to {day_said(end)}; "
        "the table below gives the same facts"
    )
    late = max(start, end - timedelta(days=SMALL_WINDOW_D))
    wide = TimeScale.over(start, end, LEFT, WIDTH - 8)
    narrow = TimeScale.over(late, end, 1, SMALL_WIDTH - 1)
    used: set[str] = {span.tone for span in spans} | {moment.shape for moment in moments}
    return LifeStrip(
        large=_strip(lanes, spans, moments, wide, today, label, is_small=False),
        small=_strip(lanes, spans, moments, narrow, today, label, is_small=True),
        label=label,
        key=tuple((kind, said) for kind, said in words.items() if kind in used),
        facts=_facts(spans, moments, today),
        small_note=f"From {day_said(late)}; the table holds all." if late > start else "",
    )


def _strip(
    lanes: Sequence[str],
    spans: Sequence[Span],
    moments: Sequence[Moment],
    scale: TimeScale,
    today: date,
    label: str,
    *,
    is_small: bool,
) -> str:
    width = SMALL_WIDTH if is_small else WIDTH
    head = 20 if is_small else 0
    strokes: list[str] = []
    y = float(TOP)
    for lane in lanes:
        mine = [s for s in spans if s.lane == lane and _is_shown(s, scale)]
        rows = _rows(mine)
        depth = max(1, 1 + max(rows, default=0)) * PITCH - (PITCH - BAR) + GAP + head
        strokes.append(stroke(f"M0 {n(y)}H{width}", "kh"))
        top = y + GAP / 2 + head
        strokes.append(text(0, y + 19 if is_small else top + 15, lane, "tx"))
        for span, row in zip(mine, rows, strict=True):
            strokes += _bar(span, scale, top + row * PITCH, today)
        here = [m for m in moments if m.lane == lane and scale.start <= m.on <= scale.end]
        strokes += _marks(here, scale, top + BAR / 2, width)
        y += depth
    grid = list(_grid(scale, y, width, is_small=is_small))
    rules = stroke(f"M0 {TOP}H{width}M0 {n(y)}H{width}", "k1")
    strokes = [*grid, *strokes, rules]
    if scale.start <= today <= scale.end:
        x = scale.x(today)
        strokes.append(stroke(f"M{n(x)} 8V{n(y + 20)}", "k15"))
        room = x - 5 > breadth("today")
        strokes.append(text(x - 5 if room else x + 5, y + 20, "today", "tb e" if room else "tb"))
    return sheet(width, y + 26, strokes, "small" if is_small else "large", label)


def _grid(scale: TimeScale, foot: float, width: float, *, is_small: bool) -> Iterator[str]:
    clear = 0.0 if is_small else scale.left
    first = next((scale.x(t.on) for t in scale.ticks() if t.label), width)
    if first - scale.left > breadth(scale.opening) + 10:
        yield text(scale.left + (0 if is_small else 6), 22, scale.opening, "tb")
        clear = scale.left + breadth(scale.opening)
    for tick in scale.ticks():
        x = scale.x(tick.on)
        top = 14 if tick.label else TOP - 8
        yield stroke(f"M{n(x)} {top}V{n(foot)}", "kr" if tick.label else "kh")
        if tick.label and x + 6 > clear and x + 6 + breadth(tick.label) <= width:
            yield text(x + 6, 22, tick.label, "tb")
            clear = x + 12 + breadth(tick.label)


def _is_shown(span: Span, scale: TimeScale) -> bool:
    return span.begun_on <= scale.end and (span.ended_on or scale.end) >= scale.start


def _rows(spans: Sequence[Span]) -> list[int]:
    """Give each bar the first row of its lane in which nothing else lies at that time."""
    ends: list[date] = []
    rows: dict[int, int] = {}
    for i in sorted(range(len(spans)), key=lambda i: spans[i].begun_on):
        begun, ended = spans[i].begun_on, spans[i].ended_on or date.max
        row = next((r for r, taken in enumerate(ends) if taken <= begun), len(ends))
        if row == len(ends):
            ends.append(ended)
        else:
            ends[row] = ended
        rows[i] = row
    return [rows[i] for i in range(len(spans))]


def _bar(span: Span, scale: TimeScale, y: float, today: date) -> Iterator[str]:
    # What lasts is drawn up to today: nobody knows how long it will go on.
    left, right = scale.x(span.begun_on), scale.x(span.ended_on or today)
    width = max(right - left, 3.0)
    left = min(left, scale.right - width)
    yield box(left, y, width, BAR, "bg")
    if span.tone in {Tone.FINE, Tone.HATCHED}:
        pattern = "hatch" if span.tone is Tone.HATCHED else "hatch-fine"
        yield hatched(left, y, width, BAR, pattern)
        yield stroke(f"M{n(left)} {n(y)}v{BAR}M{n(left + width)} {n(y)}v{BAR}", "k1")
    else:
        paint = {Tone.PALE: "p1", Tone.MID: "p3", Tone.SOLID: "p5"}[span.tone]
        yield box(left, y, width, BAR, paint)
    if span.text and breadth(span.text) + 12 <= width:
        if span.tone in {Tone.FINE, Tone.HATCHED}:
            yield text(left + 6, y + 14.5, span.text, "tx halo")
        elif span.tone is not Tone.MID:  # no ink reads well on the middle tone
            paint = "inv" if span.tone is Tone.SOLID else "tx"
            yield text(left + 6, y + 14.5, span.text, paint)


def _marks(moments: Sequence[Moment], scale: TimeScale, y: float, width: float) -> Iterator[str]:
    ordered = sorted(moments, key=lambda moment: moment.on)
    dots = [scale.x(m.on) for m in ordered if m.shape is Shape.DOT]
    clear = 0.0
    for moment in (m for m in ordered if m.shape is not Shape.BREACH):
        x = scale.x(moment.on)
        if moment.shape is Shape.TICK:
            yield stroke(f"M{n(x)} {n(y - 9)}v18", "k2")
            continue
        yield dot(x, y, 4, "dn")
        until = x + 9 + breadth(moment.text)
        nearest = min((other for other in dots if other > x + 0.5), default=width + 4) - 4
        if moment.text and x > clear and until <= nearest:
            yield text(x + 9, y + 4.5, moment.text, "halo")
            clear = until
    for moment in (m for m in ordered if m.shape is Shape.BREACH):
        x = min(max(scale.x(moment.on), 14.0), width - 14.0)
        yield diamond(x, y, 13, "ho")
        if moment.number is not None:
            yield text(x, y + 4.5, str(moment.number), "tb m")


def _facts(spans: Sequence[Span], moments: Sequence[Moment], today: date) -> tuple[Fact, ...]:
    facts = [
        Fact(
            span.begun_on,
            span.ended_on,
            span.ended_on is None or span.ended_on > today,
            span.what or _joined(span.lane, span.text),
            span.detail,
            span.by,
            span.url,
        )
        for span in spans
    ]
    facts += [
        Fact(
            moment.on,
            None,
            False,
            moment.what or _joined(moment.lane, moment.text),
            moment.detail,
            moment.by,
            moment.url,
            moment.number,
        )
        for moment in moments
    ]
    return tuple(sorted(facts, key=lambda fact: (fact.begun_on, fact.what), reverse=True))


def _joined(lane: str, said: str) -> str:
    return f"{lane}: {said}" if said else lane
