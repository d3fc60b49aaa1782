"""The gate of a dictionary: observers pass a test by its ethogram before data are accepted."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from archive.analysis.reliability.gate import Gate, Reached, Sitting, stands
from archive.models import Deposit, Dictionary
from archive.models import Sitting as Sat
from registry.errors import Conflict, Unsound
from registry.oversight.models import Session

GATE = "x:gate"
_NAMES = {
    "same": "least_same",
    "kappa": "least_kappa",
    "covered": "least_covered",
    "byLowerBound": "by_lower_bound",
    "days": "days",
}


def gate_in(descriptor: Mapping[str, Any]) -> Gate | None:
    """Give the gate that a descriptor asks for; None where it asks for none.

    Raises
    ------
    Unsound
        Where it is written wrongly.
    """
    given = descriptor.get(GATE)
    if given is None:
        return None
    fits = isinstance(given, dict) and given.keys() <= _NAMES.keys()
    if not fits or not all(isinstance(one, int | float) for one in given.values()):
        raise Unsound(
            "The dictionary was not published.",
            f"“{GATE}” is to hold numbers under some of: {', '.join(_NAMES)}.",
            "Write it so, or leave it out.",
            fields={"descriptor": f"“{GATE}” is written wrongly."},
        )
    return Gate(**{_NAMES[name]: value for name, value in given.items()})


def not_passed(deposit: Deposit) -> list[str]:
    """Say which observers of held sessions stand before the gate, and why; a sentence each."""
    gate = gate_in(deposit.dictionary.descriptor) if deposit.dictionary else None
    if gate is None or deposit.dictionary is None:
        return []
    days = _observed(deposit)
    sittings = _sittings(deposit.dictionary, days)
    return [
        sentence
        for name, on in days.items()
        for day in sorted({min(on), max(on)})
        for sentence in stands(
            gate, sittings, observer=name, ethogram=_named(deposit.dictionary), on=day
        ).reasons
    ]


def pass_gate(deposit: Deposit) -> None:
    """Refuse a deposit of which an observer stands before the gate."""
    if found := not_passed(deposit):
        raise Conflict(
            "The deposit was not accepted.",
            " ".join(dict.fromkeys(found)),
            _("Let them sit the test, or publish a dictionary without the gate. Nothing is lost."),
        )


def _named(dictionary: Dictionary) -> str:
    return str(dictionary)


def _observed(deposit: Deposit) -> dict[str, list[date]]:
    """Give the days on which each observer watched, by their name."""
    found: dict[str, list[date]] = {}
    held = Session.objects.filter(project=deposit.dataset.project_id, state="held")
    for name, moment in held.values_list("observers__name", "started_at"):
        if name and moment:
            found.setdefault(name, []).append(timezone.localtime(moment).date())
    return found


def _sittings(dictionary: Dictionary, names: Mapping[str, Any]) -> list[Sitting]:
    rows = Sat.objects.filter(dictionary=dictionary, person__name__in=names)
    return [
        Sitting(
            one.person.name,
            _named(dictionary),
            one.sat_on,
            Reached(one.same, one.kappa, one.kappa_low, one.seen, one.of),
        )
        for one in rows.select_related("person")
    ]
