"""How even a schedule is, margin by margin, and what could not be balanced."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from registry.design.schedules.sessions import Schedule, Session

Margin = Callable[[Session, int, str], tuple[str, ...]]
MARGINS: dict[str, Margin] = {
    "animal × position": lambda one, place, animal: (animal, str(place + 1)),
    "animal × slot": lambda one, place, animal: (animal, one.slot.name),
    "animal × weekday": lambda one, place, animal: (animal, one.weekday),
    "animal × crowding": lambda one, place, animal: (animal, one.slot.crowding),
    "animal × position × slot": lambda one, place, animal: (
        animal,
        str(place + 1),
        one.slot.name,
    ),
    "animal × position × weekday": lambda one, place, animal: (
        animal,
        str(place + 1),
        one.weekday,
    ),
}
"""What is looked at when a schedule is judged."""


@dataclass(frozen=True, slots=True)
class Judged:
    """How even one margin of a schedule is.

    Parameters
    ----------
    margin : str
    least, most : int
        How often the rarest and the commonest combination come.
    """

    margin: str
    least: int
    most: int

    @property
    def is_even(self) -> bool:
        """Whether combinations differ by one at the most."""
        return self.most - self.least <= 1

    @property
    def said(self) -> str:
        """The judgement in words."""
        if self.least == self.most:
            return f"{self.margin}: {self.least} each."
        said = "as even as can be" if self.is_even else "not balanced"
        return f"{self.margin}: {said}, {self.least} to {self.most}."


def cross_table(found: Schedule) -> dict[tuple[str, int, str, str, str], int]:
    """Count animal, position (from 1), slot, weekday and crowding: the table that is printed."""
    return dict(
        sorted(
            Counter(
                (animal, place + 1, one.slot.name, one.weekday, one.slot.crowding)
                for one in found.sessions
                for place, animal in enumerate(one.order)
            ).items()
        )
    )


def judged(found: Schedule) -> tuple[Judged, ...]:
    """Say of every margin how even it is, and so what could not be balanced.

    Notes
    -----
    Combinations are compared among those of one slot or weekday, because a weekday that comes more
    often is no fault of the order; the widest of these ranges is given.

    Examples
    --------
    >>> from datetime import date, time, timedelta
    >>> from registry.design import Slot, Stream, schedule
    >>> days = [date(2026, 5, 4) + timedelta(days=n) for n in range(4)]
    >>> found = schedule(["a", "b"], days, [Slot(time(10)), Slot(time(14))], Stream(bytes(32)))
    >>> judged(found)[0].said
    'animal × position: 4 each.'
    """
    rows = []
    for margin, cell_of in MARGINS.items():
        counts = Counter(
            cell_of(one, place, animal)
            for one in found.sessions
            for place, animal in enumerate(one.order)
        )
        rows.append(_widest(margin, counts, found))
    return tuple(rows)


def _widest(margin: str, counts: Counter[tuple[str, ...]], found: Schedule) -> Judged:
    """Compare animals within each cell of what is left of the margin."""
    others = {cell[1:] for cell in counts}
    ranges = []
    for rest in others:
        of_animals = [counts[animal, *rest] for animal in found.animals]
        ranges.append((min(of_animals), max(of_animals)))
    least, most = max(ranges, key=lambda one: one[1] - one[0])
    if margin == "animal × position":
        least, most = min(one for one, _ in ranges), max(one for _, one in ranges)
    return Judged(margin, least, most)
