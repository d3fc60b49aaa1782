"""Sessions over days and slots, with an order of animals in each, balanced and then drawn."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from registry.design import bounds
from registry.design.allocation.base import named
from registry.design.draws import Stream
from registry.design.schedules.balancing import balanced_orders


@dataclass(frozen=True, slots=True, order=True)
class Slot:
    """A time of day at which sessions may be held.

    Parameters
    ----------
    start : datetime.time
    crowding : str
        Stratum of visitors that is usual then: quiet, busy; empty where it does not matter.
    """

    start: time
    crowding: str = ""

    @property
    def name(self) -> str:
        """The slot in words."""
        said = f"{self.start:%H:%M}"
        return f"{said} {self.crowding}" if self.crowding else said


@dataclass(frozen=True, slots=True)
class Session:
    """One session: when it is held, and in which order the animals are watched.

    Parameters
    ----------
    day : datetime.date
    slot : Slot
    order : tuple of str
        Animals, the first watched first; empty before they are ordered.
    """

    day: date
    slot: Slot
    order: tuple[str, ...] = ()

    @property
    def begins(self) -> datetime:
        """When it begins, in the collection's own time."""
        return datetime.combine(self.day, self.slot.start)

    @property
    def weekday(self) -> str:
        """The day of the week."""
        return WEEKDAYS[self.day.weekday()]


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class Busy:
    """A time at which no session can be held: feeding, a talk, cleaning, a restriction, a booking.

    Parameters
    ----------
    begins, ends : datetime.datetime
        In the collection's own time.
    what : str
        What it is, for the sentence that says so.
    animals : frozenset of str
        Animals that it concerns; empty where it concerns all.
    """

    begins: datetime
    ends: datetime
    what: str
    animals: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Clash:
    """A session that meets something else."""

    session: Session
    busy: Busy

    @property
    def said(self) -> str:
        """The clash in a sentence."""
        one, other = self.session, self.busy
        whom = f" ({', '.join(sorted(other.animals))})" if other.animals else ""
        return (
            f"{one.weekday} {one.day.isoformat()}, {one.slot.name}: {other.what}{whom} from "
            f"{other.begins:%H:%M} to {other.ends:%H:%M}."
        )


def clashes(
    sessions: Iterable[Session], busy: Sequence[Busy], length: timedelta
) -> tuple[Clash, ...]:
    """Give every session that overlaps a busy time of an animal that it watches.

    Parameters
    ----------
    sessions : iterable of Session
    busy : sequence of Busy
    length : datetime.timedelta
        Length of a session, above 0.

    Examples
    --------
    >>> noon = Session(date(2026, 5, 4), Slot(time(12)), ("Moss",))
    >>> talk = Busy(datetime(2026, 5, 4, 12, 20), datetime(2026, 5, 4, 13), "talk")
    >>> len(clashes([noon], [talk], timedelta(minutes=30)))
    1
    >>> len(clashes([noon], [talk], timedelta(minutes=20)))
    0
    """
    if length <= timedelta(0):
        bounds.refuse(
            "length", "A session takes time.", f"{length} was given.", "Give minutes above 0."
        )
    return tuple(
        Clash(one, other)
        for one in sessions
        for other in busy
        if one.begins < other.ends
        and other.begins < one.begins + length
        and (not other.animals or not one.order or other.animals & set(one.order))
    )


@dataclass(frozen=True, slots=True)
class Schedule:
    """Every session of a project.

    Parameters
    ----------
    sessions : tuple of Session
        In time.
    animals : tuple of str
    commitment : str
        SHA-256 of the seed.
    left_out : tuple of Clash
        Times that were not taken because something else is on.
    """

    sessions: tuple[Session, ...]
    animals: tuple[str, ...]
    commitment: str
    left_out: tuple[Clash, ...] = ()


def schedule(
    animals: Sequence[str],
    days: Sequence[date],
    slots: Sequence[Slot],
    stream: Stream,
    *,
    per_day: int | None = None,
    watched: int | None = None,
    busy: Sequence[Busy] = (),
    length: timedelta = timedelta(minutes=30),
) -> Schedule:
    """Choose the sessions and order the animals in each.

    Parameters
    ----------
    animals : sequence of str
        Focal animals, or groups.
    days : sequence of datetime.date
        Different days.
    slots : sequence of Slot
        Different times.
    stream : Stream
    per_day : int, optional
        Sessions on a day; all slots by default.
    watched : int, optional
        Animals watched in a session; all by default.
    busy : sequence of Busy, optional
        Times at which no session is held.
    length : datetime.timedelta, default 30 minutes

    Returns
    -------
    Schedule

    Raises
    ------
    Unsound
        Where days or slots stand twice, or nothing is left to choose from.

    Notes
    -----
    Slots are dealt to days so that every slot, and every slot on each weekday, comes equally often.
    See `balanced_orders` for the orders. One that simply rotates would give an animal the same
    position in the same slot again and again.

    Examples
    --------
    >>> days = [date(2026, 5, 4) + timedelta(days=n) for n in range(8)]
    >>> slots = [Slot(time(10), "quiet"), Slot(time(14), "busy")]
    >>> found = schedule(["Moss", "Fern"], days, slots, Stream(bytes(32)), per_day=1)
    >>> Counter(one.slot.name for one in found.sessions)["10:00 quiet"]
    4
    """
    names = named("animals", animals, 1, "animals")
    size = bounds.whole("watched", watched or len(names), 1, "number of animals in a session")
    bounds.between("watched", size, 1, len(names), "number of animals in a session", ends=True)
    _each_once(days, slots)
    open_slots, left_out = _open(days, slots, busy, length)
    wanted = bounds.whole("per_day", per_day or len(slots), 1, "number of sessions on a day")
    bounds.between("per_day", wanted, 1, len(slots), "number of sessions on a day", ends=True)
    chosen = _dealt(open_slots, wanted, stream)
    orders = balanced_orders(
        [slots.index(one.slot) for one in chosen],
        [one.day.weekday() for one in chosen],
        len(names),
        size,
        stream,
    )
    ordered = tuple(
        replace(one, order=tuple(names[number] for number in order))
        for one, order in zip(chosen, orders, strict=True)
    )
    return Schedule(ordered, tuple(names), stream.commitment, left_out)


def _each_once(days: Sequence[date], slots: Sequence[Slot]) -> None:
    for field, given, said in (("days", days, "day"), ("slots", slots, "slot")):
        if not given or len(set(given)) < len(given):
            bounds.refuse(
                field,
                f"Each {said} is named once, and one at least.",
                f"{len(given)} were given, {len(set(given))} of them different.",
                f"Leave out what stands twice, or name a {said}.",
            )


def _open(
    days: Sequence[date], slots: Sequence[Slot], busy: Sequence[Busy], length: timedelta
) -> tuple[list[list[Session]], tuple[Clash, ...]]:
    """Give for each day the sessions that nothing bars for everybody."""
    left_out = clashes((Session(day, slot) for day in days for slot in slots), busy, length)
    barred = {(one.session.day, one.session.slot) for one in left_out}
    found = [[Session(day, slot) for slot in slots if (day, slot) not in barred] for day in days]
    if not any(found):
        bounds.refuse(
            "busy",
            "No time is left for a session.",
            "Something else is on in every slot of every day.",
            "Give more days or other slots.",
        )
    return found, left_out


def _dealt(open_slots: list[list[Session]], per_day: int, stream: Stream) -> list[Session]:
    """Take slots for each day, the least used first: over all, and on that weekday."""
    overall: Counter[Slot] = Counter()
    on_weekday: Counter[tuple[Slot, str]] = Counter()
    taken: list[Session] = []
    for day in stream.shuffled(open_slots):
        left = stream.shuffled(day)
        for _ in range(min(per_day, len(left))):
            best = min(left, key=lambda one: (overall[one.slot], on_weekday[one.slot, one.weekday]))
            left.remove(best)
            overall[best.slot] += 1
            on_weekday[best.slot, best.weekday] += 1
            taken.append(best)
    return sorted(taken, key=lambda one: (one.day, one.slot))
