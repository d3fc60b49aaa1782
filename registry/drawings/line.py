"""The line: true dates along the top, leaders fanning out to captions that never touch."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from registry.drawings.ink import breadth, dot, n, sheet, stroke, text
from registry.drawings.scale import TimeScale, day_said

WIDTH = 1168
HEIGHT = 132
SMALL_WIDTH = 358
SMALL_HEIGHT = 68
COLUMNS = 39
MOST_CAPTIONS = 13
NARROWEST_CAPTION = 3
WIDEST_CAPTION = 7
UNDATED_PX = 60
FEET = 46


@dataclass(frozen=True, slots=True)
class Step:
    """One deed on the line, done or to come.

    Parameters
    ----------
    on : date or None
        The day it was done or is to be done by; None where a step to come has no date yet.
    said : str
        What was done ("Taken on").
    by : str
        Who did it or is to do it.
    url : str
        Its entry in the ledger.
    done : bool
        False for a step to come.
    """

    on: date | None
    said: str
    by: str = ""
    url: str = ""
    done: bool = True


@dataclass(frozen=True, slots=True)
class Caption:
    """What stands under one leader: a step, or the count of those folded away between two steps.

    `column` counts from 1 to 39 and `span` is the width in such columns.
    """

    steps: tuple[Step, ...]
    column: int
    span: int
    is_newest: bool

    @property
    def step(self) -> Step:
        """The step itself, or the first of those folded."""
        return self.steps[0]

    @property
    def is_fold(self) -> bool:
        """Whether several steps stand behind this caption."""
        return len(self.steps) > 1

    @property
    def until(self) -> date | None:
        """The day of the last step folded here."""
        return self.steps[-1].on


@dataclass(frozen=True, slots=True)
class Line:
    """A drawn line: two SVGs that say nothing to a screen reader, and the captions that do."""

    large: str
    small: str
    captions: tuple[Caption, ...]
    steps: tuple[Step, ...]

    @property
    def done(self) -> int:
        """How many deeds are done."""
        return sum(step.done for step in self.steps)

    @property
    def to_come(self) -> int:
        """How many deeds are to come."""
        return len(self.steps) - self.done

    @property
    def is_folded(self) -> bool:
        """Whether some steps stand only in the full list."""
        return any(caption.is_fold for caption in self.captions)


def line(steps: Sequence[Step], today: date, *, ended: bool = False) -> Line:
    """Draw the deeds of one question, study or project in time.

    Parameters
    ----------
    steps : sequence of Step
        In any order; they are drawn by day, undated ones last.
    today : date
        Where the upright stands.
    ended : bool
        True when nothing more can follow: the line then stops at its last step and shows no today.

    Returns
    -------
    Line
        With at most thirteen captions; longer histories are folded between the first, the latest
        and the next.
    """
    ordered = tuple(sorted(steps, key=lambda step: (step.on is None, step.on or today)))
    if not ordered:
        return Line("", "", (), ())
    groups = _folded(ordered, today)
    spots = _spots(ordered, today, ended, 14, WIDTH - 14, UNDATED_PX)
    captions = _captions(ordered, groups, spots.xs)
    return Line(
        _large(ordered, groups, captions, spots),
        _small(ordered, today, ended),
        captions,
        ordered,
    )


@dataclass(frozen=True, slots=True)
class _Spots:
    """Where each step and the present stand, in pixels."""

    scale: TimeScale
    xs: tuple[float, ...]
    today_x: float | None


def _spots(
    steps: tuple[Step, ...], today: date, ended: bool, left: float, right: float, undated_px: float
) -> _Spots:
    dated = [step.on for step in steps if step.on is not None]
    undated = len(steps) - len(dated)
    bounds = dated if ended and dated else [*dated, today]
    gap = min(undated_px, (right - left) * 0.5 / max(undated, 1))
    scale = TimeScale.over(min(bounds), max(bounds), left, right - gap * undated)
    later = iter(range(1, undated + 1))
    xs = tuple(
        scale.x(step.on) if step.on is not None else scale.right + gap * next(later)
        for step in steps
    )
    return _Spots(scale, xs, None if ended and dated else scale.x(today))


def _folded(steps: tuple[Step, ...], today: date) -> list[range]:
    """Choose at most thirteen runs of steps: the first, those about today, and the last."""
    count = len(steps)
    if count <= MOST_CAPTIONS:
        return [range(i, i + 1) for i in range(count)]
    edge = sum(step.on is not None and step.on <= today for step in steps) - 0.5
    weight = {i: min(2 * i, abs(i - edge), 3 * (count - 1 - i)) for i in range(count)}
    kept: set[int] = set()
    for i in sorted(weight, key=lambda i: (weight[i], i)):
        if len(_runs(kept | {i}, count)) <= MOST_CAPTIONS:
            kept.add(i)
    return _runs(kept, count)


def _runs(kept: set[int], count: int) -> list[range]:
    runs: list[range] = []
    i = 0
    while i < count:
        stop = i + 1
        if i not in kept:
            while stop < count and stop not in kept:
                stop += 1
        runs.append(range(i, stop))
        i = stop
    return runs


def _captions(
    steps: tuple[Step, ...], groups: list[range], xs: tuple[float, ...]
) -> tuple[Caption, ...]:
    span = max(NARROWEST_CAPTION, min(5, COLUMNS // len(groups)))
    wanted = [sum(xs[i] for i in group) / len(group) * COLUMNS / WIDTH for group in groups]
    columns = _set_apart(wanted, span)
    newest = max((i for i, step in enumerate(steps) if step.done), default=-1)
    return tuple(
        Caption(
            tuple(steps[i] for i in group),
            column + 1,
            min(WIDEST_CAPTION, following - column),
            newest in group,
        )
        for group, column, following in zip(groups, columns, [*columns[1:], COLUMNS], strict=True)
    )


def _set_apart(wanted: Sequence[float], span: int) -> list[int]:
    """Place captions of one width in whole columns, in order, as near as can be to their marks.

    Pooling adjacent violators gives the least squared displacement (Ayer and others, 1955).
    """
    pools: list[tuple[float, int]] = []
    for i, want in enumerate(wanted):
        pools.append((want - i * span, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (a, a_count), (b, b_count) = pools[-2:]
            whole = a_count + b_count
            pools[-2:] = [((a * a_count + b * b_count) / whole, whole)]
    room = COLUMNS - len(wanted) * span
    free = [mean for mean, count in pools for _ in range(count)]
    return [round(min(max(mean, 0), room)) + i * span for i, mean in enumerate(free)]


def _large(
    steps: tuple[Step, ...], groups: list[range], captions: tuple[Caption, ...], spots: _Spots
) -> str:
    scale, xs, now = spots.scale, spots.xs, spots.today_x
    strokes = list(_calendar(scale, now))
    strokes += _body(xs, now, FEET, "kl")
    for group, caption in zip(groups, captions, strict=True):
        x = sum(xs[i] for i in group) / len(group)
        foot = (caption.column - 1) * WIDTH / COLUMNS + 1
        paint = "kr" if caption.step.done else "kt"
        strokes.append(stroke(f"M{n(x)} 55V66L{n(foot)} 110V132", paint))
    for group in groups:
        for i in group:
            radius = 6.0 if len(group) == 1 else 3.0
            strokes.append(dot(xs[i], FEET, radius, "dn" if steps[i].done else "ho"))
    return sheet(WIDTH, HEIGHT, strokes, "large")


def _calendar(scale: TimeScale, now: float | None) -> Iterator[str]:
    labels: list[tuple[float, str]] = []
    for tick in scale.ticks():
        x = scale.x(tick.on)
        yield stroke(f"M{n(x)} 40v{-16 if tick.label else -7}", "kr")
        if tick.label and x + 5 + breadth(tick.label) < WIDTH:
            labels.append((x + 5, tick.label))
    if not labels or labels[0][0] > 12 + breadth(scale.opening):
        labels.insert(0, (2, scale.opening))
    if now is not None:
        before = (now - 5 - breadth("today"), now - 5)
        after = (now + 5, now + 5 + breadth("today"))
        is_before = before[0] > 0 and (
            not _meet(before, labels) or after[1] > WIDTH or _meet(after, labels)
        )
        taken = before if is_before else after
        labels = [label for label in labels if not _meet(taken, [label])]
        yield stroke(f"M{n(now)} 16V55", "k1")
        yield text(taken[1] if is_before else taken[0], 24, "today", "tb e" if is_before else "tb")
    for x, label in labels:
        yield text(x, 33 if x > 2 else 29, label, "tq")


def _meet(taken: tuple[float, float], labels: Sequence[tuple[float, str]]) -> bool:
    return any(x < taken[1] and x + breadth(label) > taken[0] for x, label in labels)


def _body(xs: tuple[float, ...], now: float | None, y: float, paint: str) -> Iterator[str]:
    """Draw the solid stretch up to today and the broken one beyond."""
    first, last = xs[0], xs[-1]
    solid_to = last if now is None else now
    if solid_to > first:
        yield stroke(f"M{n(first)} {n(y)}H{n(solid_to)}", paint)
    broken_from = max(first, solid_to + 5)
    if last > broken_from:
        yield stroke(f"M{n(broken_from)} {n(y)}H{n(last)}", "kd")


def _small(steps: tuple[Step, ...], today: date, ended: bool) -> str:
    spots = _spots(steps, today, ended, 8, SMALL_WIDTH - 8, 14)
    scale, now = spots.scale, spots.today_x
    strokes: list[str] = []
    clear = 0.0
    for tick in scale.ticks():
        x = scale.x(tick.on)
        if tick.label and x > clear and x + 4 + breadth(tick.label) < SMALL_WIDTH:
            strokes.append(stroke(f"M{n(x)} 14v11", "kr"))
            strokes.append(text(x + 4, 19, tick.label, "tq"))
            clear = x + 10 + breadth(tick.label)
    strokes += _body(spots.xs, now, 34, "k2")
    opening = next((day_said(step.on) for step in steps if step.on is not None), "")
    label_from = SMALL_WIDTH + 0.0
    if now is not None:
        strokes.append(stroke(f"M{n(now)} 14V44", "k1"))
        end = min(max(now + breadth("today") / 2, breadth("today")), SMALL_WIDTH)
        label_from = end - breadth("today")
        strokes.append(text(end, 62, "today", "tb e"))
    first = max(spots.xs[0] - 4, 0)
    if first + breadth(opening) + 8 < label_from:
        strokes.append(text(first, 62, opening, "tq"))
    strokes += [
        dot(x, 34, 4.5 if not step.done else 4, "dn" if step.done else "ho")
        for step, x in zip(steps, spots.xs, strict=True)
    ]
    return sheet(SMALL_WIDTH, SMALL_HEIGHT, strokes, "small")
