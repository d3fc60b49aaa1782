"""The state of an animal, a group or an egg case on any day, from what happened to it.

The same sum gives the state now, one event after another as they are recorded, and the state on
an earlier day, from the events up to then: there is no second way to know.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol

from registry.animals.stock import Count


class Happened(Protocol):
    """What is asked of an event; a model's row will do, and so will any plain object.

    `males`, `females` and `unknown` are changes in animals, losses negative; `enclosure_id` is a
    key or None; `sex` and `life_stage` are words, empty where not told.
    """

    pk: int
    sort: str
    happened_on: date
    males: int
    females: int
    unknown: int
    is_estimated: bool
    sex: str
    life_stage: str
    enclosure_id: int | None


NOBODY = Count()


@dataclass(frozen=True)
class State:
    """What is known of one record on one day.

    Parameters
    ----------
    count : Count
        Animals, or eggs, that it stands for: 0 or 1 for an animal.
    enclosure : int or None
        Key of the enclosure where they live; None where none was told, or they are away.
    sex, life_stage : str
        As last told; empty before anything was.
    is_estimated : bool
        Whether the number rests on an estimate.
    """

    count: Count = NOBODY
    enclosure: int | None = None
    sex: str = ""
    life_stage: str = ""
    is_estimated: bool = False

    @property
    def is_here(self) -> bool:
        """Whether anyone is left of it in the collection."""
        return self.count.total > 0


_PLACING = frozenset({"arrived", "born", "laid", "moved", "drawn", "split", "returned"})


def after(state: State, event: Happened) -> State:
    """Give the state after one more event.

    Parameters
    ----------
    state : State
        As it was before.
    event : Happened
        What happened then.

    Raises
    ------
    Unsound
        When more animals would leave than were there.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> hatched = SimpleNamespace(sort="born", males=0, females=0, unknown=9, is_estimated=False,
    ...     sex="", life_stage="hatchling", enclosure_id=4)
    >>> str(after(State(), hatched).count)
    '0.0.9'
    """
    count = Count(
        state.count.males + event.males,
        state.count.females + event.females,
        state.count.unknown + event.unknown,
    )
    told = replace(
        state,
        count=count,
        sex=event.sex or state.sex,
        life_stage=event.life_stage or state.life_stage,
    )
    if event.sort == "counted":
        told = replace(told, is_estimated=event.is_estimated)
    elif event.is_estimated:
        told = replace(told, is_estimated=True)
    if event.sort == "sent":
        return replace(told, enclosure=None)
    if event.sort in _PLACING and event.enclosure_id is not None:
        return replace(told, enclosure=event.enclosure_id)
    return told


def as_of(events: Iterable[Happened], day: date | None = None) -> State:
    """Give the state at the end of a day.

    Parameters
    ----------
    events : iterable of Happened
        Standing events of one record, in any order.
    day : date, optional
        The day, itself included; without one, all that happened.

    Raises
    ------
    Unsound
        When on some day more animals would have left than were there.

    Notes
    -----
    Events of one day follow each other as they were recorded (by `pk`).
    """
    state = State()
    for event in sorted(events, key=lambda one: (one.happened_on, one.pk)):
        if day is not None and event.happened_on > day:
            break
        state = after(state, event)
    return state
