"""The gate of a dictionary: observers pass a test by its ethogram before data are accepted."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from archive.analysis.reliability.gate import (
    Gate,
    Reached,
    Sitting,
    Verdict,
    passes,
    stands,
)
from archive.engine.facts import Passed
from archive.models import Deposit, Dictionary
from archive.models import Sitting as Sat
from registry.errors import Conflict, Unsound
from registry.oversight.models import Session
from registry.people.models import Person
from registry.projects.models import Project

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
            _("“%(gate)s” is to hold numbers under some of: %(names)s.")
            % {"gate": GATE, "names": ", ".join(_NAMES)},
            "Write it so, or leave it out.",
            fields={"descriptor": _("“%(gate)s” is written wrongly.") % {"gate": GATE}},
        )
    return Gate(**{_NAMES[name]: value for name, value in given.items()})


def gate_told(dictionary: Dictionary, person: Person) -> tuple[list[str], Verdict] | None:
    """Say what a dictionary asks of observers, and how a person stands before it today."""
    gate = gate_in(dictionary.descriptor)
    if gate is None:
        return None
    asks = [
        _("%(share)s per cent of the moments coded as the standard has them")
        % {"share": f"{100 * gate.least_same:.0f}"},
        (
            _("a lower bound of kappa of %(kappa)s")
            if gate.by_lower_bound
            else _("a kappa of %(kappa)s")
        )
        % {"kappa": f"{gate.least_kappa:.2f}"},
    ]
    if gate.least_covered:
        asks.append(
            _("%(share)s per cent of the behaviours seen in the test")
            % {"share": f"{100 * gate.least_covered:.0f}"}
        )
    if gate.days is not None:
        asks.append(
            ngettext(
                "a test anew after %(count)s day", "a test anew after %(count)s days", gate.days
            )
            % {"count": gate.days}
        )
    own = _sittings(dictionary.sittings.filter(person=person), {})
    name, today = person.name, timezone.localdate()
    return asks, stands(gate, own, observer=name, ethogram=str(dictionary), on=today)


def not_passed(deposit: Deposit) -> list[str]:
    """Say which observers stand before the gate, and why; a sentence each.

    Of the register: each observer on each day of a held session. Of the data: what their check
    found, by the observer's code and the day of each row.
    """
    dictionary = deposit.dictionary
    gate = gate_in(dictionary.descriptor) if dictionary else None
    if gate is None or dictionary is None:
        return []
    project = deposit.dataset.project
    codes = _codes(project)
    sittings = _sittings(dictionary.sittings.all(), codes)
    said = [
        sentence
        for code, day in _observed(project, codes)
        for sentence in stands(
            gate, sittings, observer=code, ethogram=str(dictionary), on=day
        ).reasons
    ]
    if rows := _told(deposit):
        said.append(
            ngettext(
                "The check found %(count)s row of an observer who had passed no test on that day; "
                "its report names it. If the test was recorded since, have it checked again.",
                "The check found %(count)s rows of observers who had passed no test on that day; "
                "its report names them. If the tests were recorded since, have it checked again.",
                rows,
            )
            % {"count": rows}
        )
    return list(dict.fromkeys(said))


def _told(deposit: Deposit) -> int:
    """Give how many rows of untested observers the newest check found."""
    return sum(
        one["count"]
        for one in (deposit.summary or {}).get("counts", [])
        if one["code"] == "untested-observer"
    )


def tested_of(project: Project, dictionary: Dictionary | None) -> tuple[Passed, ...] | None:
    """Give the days on which each observer of a project stands behind the gate of a dictionary."""
    gate = gate_in(dictionary.descriptor) if dictionary else None
    if gate is None or dictionary is None:
        return None
    codes = _codes(project)
    sittings = _sittings(dictionary.sittings.all(), codes)
    return tuple(
        Passed(code, since, until)
        for code in sorted(set(codes.values()))
        for since, until in passes(gate, sittings, observer=code, ethogram=str(dictionary))
    )


def pass_gate(deposit: Deposit) -> None:
    """Refuse a deposit of which an observer stands before the gate."""
    if found := not_passed(deposit):
        raise Conflict(
            "The deposit was not accepted.",
            " ".join(found),
            _("Let them sit the test, or publish a dictionary without the gate. Nothing is lost."),
        )


def _codes(project: Project) -> dict[int, str]:
    """Give the code of each person who watches, or watched, in a project."""
    return {one.person_id: one.data_code for one in project.members.with_codes()}


def _observed(project: Project, codes: Mapping[int, str]) -> list[tuple[str, date]]:
    """Give each observer, by code or else by name, with each day on which they watched."""
    held = Session.objects.filter(project=project, state="held").exclude(started_at=None)
    rows = held.exclude(observers=None).values_list(
        "observers__pk", "observers__name", "started_at"
    )
    return sorted(
        {(codes.get(pk, name), timezone.localtime(moment).date()) for pk, name, moment in rows}
    )


def _sittings(rows: QuerySet[Sat], codes: Mapping[int, str]) -> list[Sitting]:
    """Give tests, each under its observer's code, or else their name."""
    return [
        Sitting(
            codes.get(one.person_id, one.person.name),
            str(one.dictionary),
            one.sat_on,
            Reached(one.same, one.kappa, one.kappa_low, one.seen, one.of),
        )
        for one in rows.select_related("person", "dictionary__study")
    ]
