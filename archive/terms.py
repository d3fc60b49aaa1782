"""On which terms a deposit may become a version: licence, access, agreement, number, creators."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from archive.exports.licences import licence_of
from archive.models import Dataset, Deposit, PooledTable, Version
from registry.errors import Conflict, Unsound
from registry.people.models import Person
from registry.permissions import Part
from registry.projects.models import Agreement, Project
from registry.transitions import day_said

WHAT = "The deposit was not accepted."
STEPS = (
    ("patch", "a correction of what is there"),
    ("minor", "more of the same: rows or tables were added"),
)
_ASK_NOTHING = frozenset({"CC0-1.0", "PDDL-1.0"})
_TITLES = frozenset({"dr", "dr.", "prof", "prof.", "professor"})


@dataclass(frozen=True)
class Terms:
    """What whoever accepts decides."""

    licence: str
    access: str
    embargoed_until: date | None = None
    restricted_because: str = ""


def months_on(day: date, months: int) -> date:
    """Give the day so many months on; the month's last day where it is shorter."""
    at = day.month - 1 + months
    year, month = day.year + at // 12, at % 12 + 1
    for last in (day.day, 30, 29, 28):
        try:
            return date(year, month, min(day.day, last))
        except ValueError:
            continue
    raise AssertionError


def check_terms(deposit: Deposit, terms: Terms) -> None:
    """Refuse terms that do not hold together, or that the data agreement does not allow.

    Raises
    ------
    Unsound
        With a complaint for the field.
    Conflict
        When it was pooled, and the pooled table or one of its sources was withdrawn since.
    """
    if deposit.verdict != "valid":
        raise Unsound(
            WHAT,
            "Its tables do not hold together yet; only a valid package becomes a version.",
            "Have it corrected and submitted again; what the register says is no obstacle.",
        )
    licence_of(terms.licence)
    today = timezone.localdate()
    if terms.access == Version.Access.EMBARGOED:
        _check_embargo(terms.embargoed_until, today)
    elif terms.embargoed_until is not None:
        raise _bad("embargoed_until", "An end of the embargo was given, and no embargo.")
    if terms.access == Version.Access.RESTRICTED:
        if not terms.restricted_because.strip():
            raise _bad("restricted_because", "Why it is restricted was not said.")
    elif terms.restricted_because.strip():
        raise _bad("restricted_because", "A reason was given, and nothing is restricted.")
    if deposit.pool is not None:
        _check_sources(deposit.pool, terms, today)
    for agreement in deposit.dataset.project.agreements.select_related("person"):
        _check_agreement(deposit.dataset, agreement, terms, today)


def _bad(field: str, why: str, next: str = "Choose again.") -> Unsound:
    return Unsound(WHAT, why, next, fields={field: why})


def _check_embargo(until: date | None, today: date) -> None:
    if until is None:
        raise _bad("embargoed_until", "The day on which the embargo ends was not given.")
    if until <= today:
        raise _bad("embargoed_until", "The embargo would be over already.", "Give a later day.")
    cap = settings.EMBARGO_CAP_MONTHS
    if until > months_on(today, cap):
        raise _bad(
            "embargoed_until",
            _("An embargo lasts %(cap)s months at most.") % {"cap": cap},
            _("Give a day up to %(months_on)s.") % {"months_on": day_said(months_on(today, cap))},
        )


def _check_sources(pool: PooledTable, terms: Terms, today: date) -> None:
    """Refuse to open what was pooled further, or on easier terms, than what it was made of."""
    if pool.state == "withdrawn":
        why = _("The pooled table was withdrawn: %(withdrawn_because)s") % {
            "withdrawn_because": pool.withdrawn_because
        }
        raise Conflict(WHAT, why, "Discard the deposit; pool the cohorts anew.")
    if gone := pool.gone:
        why = _("Withdrawn since it was pooled: %(map)s.") % {"map": ", ".join(map(str, gone))}
        raise Conflict(WHAT, why, "Discard the deposit; pool the versions that are held anew.")
    sources = list(pool.sources.select_related("dataset"))
    if terms.access != Version.Access.RESTRICTED:
        for one in sources:
            if one.access == Version.Access.RESTRICTED:
                raise _bad(
                    "access", _("%(one)s is restricted.") % {"one": one}, "Choose “restricted”."
                )
            until = one.embargoed_until
            if until and until > today and (terms.embargoed_until or today) < until:
                said = _("%(one)s is under embargo until %(until)s.") % {
                    "one": one,
                    "until": day_said(until),
                }
                raise _bad("access", said, "Choose an embargo until then, or later.")
    licences = sorted({one.licence for one in sources})
    asking = [one for one in licences if one not in _ASK_NOTHING] or licences
    if terms.licence not in asking:
        said = _("Its sources are under %(licences)s.") % {"licences": ", ".join(licences)}
        raise _bad("licence", said, _("Choose %(asking)s.") % {"asking": " or ".join(asking)})


def _check_agreement(dataset: Dataset, agreement: Agreement, terms: Terms, today: date) -> None:
    """Hold the terms against what a student signed."""
    said = _("%(person)s signed: %(terms)s.") % {
        "person": agreement.person,
        "terms": agreement.get_terms_display(),
    }
    restricted = terms.access == Version.Access.RESTRICTED
    if agreement.terms == Agreement.Terms.WITHIN and not restricted:
        raise _bad("access", said, "Choose “restricted”, or have another agreement signed.")
    if agreement.terms != Agreement.Terms.EMBARGOED or restricted:
        return
    first = dataset.versions.order_by("accepted_at").values_list("accepted_at", flat=True).first()
    begun = timezone.localdate(first) if first else today
    until = months_on(begun, agreement.embargo_months)
    if until > today and (terms.embargoed_until is None or terms.embargoed_until < until):
        raise _bad(
            "access",
            said,
            _("Choose an embargo until %(until)s, or later.") % {"until": day_said(until)},
        )


# ------------------------------------------------------------------ number and creators


def number_parts(number: str) -> tuple[int, ...]:
    """Give a version number as whole numbers, for comparing."""
    return tuple(int(part) for part in number.split("."))


def next_number(deposit: Deposit, step: str) -> str:
    """Give the number of the version that this deposit would become.

    1.0.0 first; another dictionary is a major step; else as it is said.
    Data Package Standard 2.0, recipe "Data Package version".
    """
    versions = list(deposit.dataset.versions.all())
    if not versions:
        return "1.0.0"
    last = max(versions, key=lambda version: number_parts(version.number))
    major, minor, patch = number_parts(last.number)
    if last.dictionary_id != deposit.dictionary_id:
        return f"{major + 1}.0.0"
    return f"{major}.{minor + 1}.0" if step == "minor" else f"{major}.{minor}.{patch + 1}"


def makers_of(project: Project) -> list[Person]:
    """Give who made the data: the students first, then the supervisors."""
    order = {Part.STUDENT: 0, Part.LEAD: 1, Part.CO_SUPERVISOR: 2}
    members = [
        member
        for member in project.members.select_related("person__institution")
        if member.part == Part.STUDENT or (member.ended_on is None and member.part in order)
    ]
    members.sort(key=lambda member: (order[Part(member.part)], member.pk))
    return list(dict.fromkeys(member.person for member in members))


def creators(project: Project, people: Iterable[Person]) -> list[dict[str, Any]]:
    """Give the creators of a version as they are kept beside it."""
    students = set(project.members.filter(part=Part.STUDENT).values_list("person", flat=True))
    return [_creator(person, is_student=person.pk in students) for person in people]


def _creator(person: Person, *, is_student: bool) -> dict[str, Any]:
    words = [word for word in person.name.split() if word.lower() not in _TITLES]
    return {
        "person": person.pk,
        "family": words[-1] if words else person.name,
        "given": " ".join(words[:-1]),
        "orcid": person.orcid,
        "affiliation": person.institution.name if person.institution else "",
        "role": "creator" if is_student else "supervisor",
    }
