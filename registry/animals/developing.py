"""What became of an embryo, from what happened to it: one sum, also when an event is taken back."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Protocol


class Happened(Protocol):
    """What is asked of an event; a model's row will do, and so will any plain object."""

    pk: int
    sort: str
    happened_on: date
    is_positive: bool | None


@dataclass(frozen=True)
class Development:
    """What is known of one embryo.

    Parameters
    ----------
    is_fertile : bool or None
        None where nobody looked.
    outcome : str
        `developing`, `infertile`, `hatched` or `died`.
    ended_on : date or None
        When it ended; None while it develops.
    """

    is_fertile: bool | None = None
    outcome: str = "developing"
    ended_on: date | None = None


def developed(events: Iterable[Happened]) -> Development:
    """Give what became of an embryo.

    Parameters
    ----------
    events : iterable of Happened
        Its standing events, in any order; those of one day follow each other by `pk`.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> seen = SimpleNamespace(pk=1, sort="fertile", happened_on=date(2026, 5, 1), is_positive=True)
    >>> died = SimpleNamespace(pk=2, sort="died", happened_on=date(2026, 5, 9), is_positive=None)
    >>> developed([died, seen]).outcome, developed([seen]).outcome
    ('died', 'developing')
    """
    told = Development()
    for event in sorted(events, key=lambda one: (one.happened_on, one.pk)):
        if event.sort == "fertile" and event.is_positive:
            told = replace(told, is_fertile=True)
        elif event.sort == "fertile":
            told = Development(False, "infertile", event.happened_on)
        elif event.sort == "hatched":
            told = Development(True, "hatched", event.happened_on)
        elif event.sort == "died":
            told = replace(told, outcome="died", ended_on=event.happened_on)
    return told
