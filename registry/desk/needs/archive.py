"""What deposits need."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from archive.models import Deposit
from registry.desk.needs.need import Need, on, step_url
from registry.permissions import Verb, allowed
from registry.tags import day


def to_accept(person: Any, today: date) -> Iterator[Need]:
    """Sound deposits of others that one may accept."""
    waiting = allowed(Deposit.objects.awaiting_acceptance(), person, Verb.DEPOSIT_ACCEPT)
    for one in waiting.select_related("dataset", "maker"):
        yield Need(
            what=f"A deposit waits to be accepted: {one.dataset}",
            why=f"From {one.maker.name}; its tables hold together, checked {day(one.checked_at)}.",
            step="Look and accept",
            url=step_url(one, "accept"),
            since=on(one.checked_at),
        )


def to_correct(person: Any, today: date) -> Iterator[Need]:
    """Checked deposits of one's own project in which something must be put right."""
    faulty = allowed(Deposit.objects.filter(state="checked"), person, Verb.DEPOSIT_CORRECT)
    for one in faulty.exclude(verdict="valid").select_related("dataset"):
        yield Need(
            what=f"The check found things to put right: {one.dataset}",
            why="Nothing was lost; the report says file, row, column and what to do.",
            step="See the findings",
            url=one.get_absolute_url(),
            since=on(one.checked_at),
        )


def to_submit(person: Any, today: date) -> Iterator[Need]:
    """Deposits that one opened and has not submitted."""
    opened = allowed(
        Deposit.objects.filter(state="opened", maker=person), person, Verb.DEPOSIT_SUBMIT
    )
    for one in opened.select_related("dataset"):
        yield Need(
            what=f"A deposit is open: {one.dataset}",
            why="Add the files, and submit it to be checked.",
            step="Go on with it",
            url=one.get_absolute_url(),
            since=on(one.opened_at),
        )
