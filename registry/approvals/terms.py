"""Whether the terms of a request hold together: its days, and whom it names for use again."""

from collections.abc import Iterable
from datetime import date

from registry.animals.models import Animal
from registry.approvals.live import EVERY_DAY
from registry.approvals.models import Approval
from registry.errors import Unsound


def sound_terms(what: str, starts_on: date, ends_on: date, weekdays: str) -> str:
    """Give the weekdays in order, once the terms hold together."""
    if ends_on < starts_on:
        raise Unsound(
            what,
            "It would end before it starts.",
            "Give a later last day.",
            fields={"ends_on": "Before the first day."},
        )
    if not weekdays or set(weekdays) - set(EVERY_DAY):
        raise Unsound(
            what,
            "The days of the week are written 1 to 7, Monday is 1.",
            "Choose at least one day.",
            fields={"weekdays": "Choose at least one day."},
        )
    return "".join(sorted(set(weekdays)))


def sound_reuse(what: str, consent: str, animals: Iterable[Animal]) -> list[Animal]:
    """Give the animals to be named, once the consent and the names agree."""
    named = list(animals)
    if (consent == Approval.Consent.NAMED) != bool(named):
        raise Unsound(
            what,
            "Animals are to be used again by name, and none is named."
            if consent == Approval.Consent.NAMED
            else "Animals are named for use again, and the consent is not for named ones.",
            "Choose how far animals are used again, and name them only where it says so.",
            fields={"reuse_animals": "Name them just where the consent is for named animals."},
        )
    return named
