"""What is answered where something is drawn: the same facts for the page and its papers."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.utils.translation import gettext as _

from registry import design
from registry.desk.designing.busy import bookings_at, busy_at
from registry.desk.designing.drawn import AllocateForm, ScheduleForm
from registry.desk.designing.drawn_often import SimulateForm
from registry.desk.designing.taking import read


@dataclass(frozen=True)
class Allocated:
    """An allocation by one draw, with its codes and what proves it."""

    found: Any
    codes: dict[str, str]
    seed: str
    balance: tuple[Any, ...]
    sent: dict[str, Any]

    @property
    def reach(self) -> Any:
        """The smallest p that the draw can reach, where its draws are counted."""
        is_counted = self.sent["method"] in design.COUNTED
        return design.draw_reach(self.found) if is_counted else None

    @property
    def rows(self) -> list[tuple[Any, str]]:
        """Each unit's place with its code."""
        return [(one, self.codes[one.unit]) for one in self.found.places]


def allocated(form: AllocateForm) -> Allocated:
    """Draw an allocation from the seed that was given, or from a new one.

    Raises
    ------
    Unsound
        As `registry.design.allocate`.
    """
    sent = form.sent()
    given = read(form.part, sent)
    seed = design.seed_from(form.cleaned_data["seed"] or design.new_seed().hex())
    found = design.allocate(given, design.Stream(seed))
    blinding = design.Stream(design.seed_for(seed, "blinding"))
    known = given.get("covariates", {})
    width = min((len(one) for one in known.values()), default=0)
    numbers = {
        _("number %(place)s") % {"place": place + 1}: {
            unit: values[place] for unit, values in known.items()
        }
        for place in range(width)
    }
    return Allocated(
        found,
        design.codes([one.unit for one in found.places], blinding),
        seed.hex(),
        design.balance_table(found, numbers),
        sent,
    )


@dataclass(frozen=True)
class Scheduled:
    """A schedule by one draw, with what it was drawn around."""

    found: Any
    sent: dict[str, Any]
    length: timedelta
    every: timedelta | None
    bookings: list[Any]

    @property
    def rows(self) -> list[tuple[int, Any]]:
        """The sessions, numbered from 1."""
        return list(enumerate(self.found.sessions, 1))

    @property
    def judged(self) -> tuple[Any, ...]:
        """How even each margin is."""
        return tuple(design.judged(self.found))

    @property
    def table(self) -> dict[str, Any]:
        """Animal and position against times and weekdays: how often each comes."""
        counts = design.cross_table(self.found)
        days = list(dict.fromkeys(one.weekday for one in self.found.sessions))
        heads = sorted({key[2:4] for key in counts}, key=lambda one: (days.index(one[1]), one[0]))
        rows = sorted({key[:2] for key in counts})
        cells: dict[tuple[Any, ...], int] = {}
        for key, count in counts.items():
            cells[key[:4]] = cells.get(key[:4], 0) + count
        return {
            "heads": [f"{day[:3]} {slot}" for slot, day in heads],
            "rows": [(*row, [cells.get((*row, *head), 0) for head in heads]) for row in rows],
        }

    @property
    def sheet(self) -> list[Any]:
        """The lines of a blank sheet: scans at each moment, or each animal in turn."""
        if self.every is not None:
            return list(design.scan_sheet(self.found, self.length, self.every))
        watched = len(self.found.sessions[0].order)
        return list(design.focal_sheet(self.found, self.length / watched))


def scheduled(form: ScheduleForm) -> Scheduled:
    """Draw a schedule around what the register knows to be on at its enclosure.

    Raises
    ------
    Unsound
        As `registry.design.schedule`.
    """
    given, sent, days = form.cleaned_data, form.sent(), form.days()
    sent.setdefault("seed", design.new_seed().hex())
    place, bookings = given.get("place"), []
    if place is not None and days:
        sent["busy"] = busy_at(place, days[0], days[-1])
        bookings = bookings_at(place, days[0], days[-1])
    found = design.scheduled(read(form.part, sent))
    length = timedelta(minutes=given["length_min"])
    every = timedelta(minutes=given["every_min"]) if given.get("every_min") else None
    if every is not None:
        design.scan_times(found.sessions[0].begins, length, every)
    return Scheduled(found, sent, length, every, bookings)


@dataclass(frozen=True)
class Simulated:
    """What a simulation found."""

    found: Any
    sent: dict[str, Any]


def simulated(form: SimulateForm) -> Simulated:
    """Draw a study as often as was asked.

    Raises
    ------
    Unsound
        As `registry.design.simulate`, and where it takes longer than somebody waits.
    """
    sent = form.sent()
    return Simulated(design.simulated(read(form.part, sent)), sent)
