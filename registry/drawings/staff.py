"""The limit staff: what is used, what is asked for, and the limit as a heavy stroke."""

from dataclasses import dataclass
from decimal import Decimal
from math import floor, log10

from registry.drawings.ink import box, breadth, hatched, n, sheet, stroke, text

WIDTH = 400
HEIGHT = 64
LEFT = 2.0
LONG = 396.0
TOP = 20
DEPTH = 18
MOST_LABELS = 6

Amount = int | float | Decimal


@dataclass(frozen=True, slots=True)
class Staff:
    """One drawn limit.

    Parameters
    ----------
    name : str
        What is limited, with its unit in words ("Keeper hours").
    svg : str
    figure, said, note : str
        The answer as a figure, the words that follow it, and the sum behind it.
    is_over : bool
        Whether used and asked together pass the limit.
    """

    name: str
    svg: str
    used: Amount
    asked: Amount
    limit: Amount
    figure: str
    said: str
    note: str
    is_over: bool


def staff(name: str, used: Amount, asked: Amount, limit: Amount) -> Staff:
    """Draw how much of a limit is used and asked for, in the limit's own unit.

    Parameters
    ----------
    name : str
        What is limited, with its unit in words.
    used, asked, limit : int, float or Decimal
        Amounts in one unit, none below 0.

    Returns
    -------
    Staff

    Raises
    ------
    ValueError
        When an amount is below 0.
    """
    if min(used, asked, limit) < 0:
        raise ValueError("amounts on a limit cannot be below 0")
    spent, wish, mark = float(used), float(asked), float(limit)
    over = round(spent + wish - mark, 9)
    is_over = over > 0
    figure = _said(abs(over))
    if not is_over:
        words = f"left of {_said(mark)}"
    elif spent > mark and not wish:
        words = f"over the limit of {_said(mark)}"
    else:
        words = f"over; the limit would rise to {_said(spent + wish)}"
    note = f"{_said(spent)} used" + (f", {_said(wish)} asked" if wish else "")
    label = f"{name}: limit {_said(mark)}, {_said(spent)} used"
    label += f", {_said(wish)} asked for" if wish else ""
    label += f", {figure} over the limit" if is_over else f", {figure} left"
    return Staff(
        name, _drawn(spent, wish, mark, label), used, asked, limit, figure, words, note, is_over
    )


def _said(amount: float) -> str:
    return f"{amount:.2f}".rstrip("0").rstrip(".")


def _step(whole: float) -> float:
    """Choose a round step that leaves at most six labels; a limit counts whole animals or times."""
    power = max(1.0, 10.0 ** floor(log10(whole / MOST_LABELS)))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power * MOST_LABELS >= whole)


def _drawn(used: float, asked: float, limit: float, label: str) -> str:
    whole = max(limit, used + asked) or 1.0

    def x(amount: float) -> float:
        return LEFT + LONG * amount / whole

    strokes = [box(LEFT, TOP, LONG, DEPTH, "p0")]
    if used:
        strokes.append(box(LEFT, TOP, x(used) - LEFT, DEPTH, "p4"))
    if asked:
        strokes.append(hatched(x(used), TOP, x(used + asked) - x(used), DEPTH, "hatch"))
        strokes.append(stroke(f"M{n(x(used + asked))} {TOP}V{TOP + DEPTH}", "k1"))
    step = _step(whole)
    marks = range(int(whole / step + 1e-9) + 1)
    for i in marks:
        amount = i * step
        strokes.append(stroke(f"M{n(x(amount))} {TOP + DEPTH}v8", "kr"))
        said = _said(amount)
        if i == 0:
            strokes.append(text(LEFT, HEIGHT - 4, said, "tq"))
        elif x(amount) + breadth(said) / 2 > LEFT + LONG:
            strokes.append(text(LEFT + LONG, HEIGHT - 4, said, "tq e"))
        else:
            strokes.append(text(x(amount), HEIGHT - 4, said, "tq m"))
    strokes.append(stroke(f"M{n(LEFT)} {TOP}V{TOP + DEPTH}", "k1"))
    mark = min(max(x(limit), 1.5), WIDTH - 3.5)
    strokes.append(stroke(f"M{n(mark)} 12V44", "lim"))
    named = f"limit {_said(limit)}"
    room = mark - 4 > breadth(named)
    strokes.append(text(mark - 4 if room else mark + 4, 15, named, "tb e" if room else "tb"))
    return sheet(WIDTH, HEIGHT, strokes, "", label)
