"""A dossier in sections of words, for its page and its print alike."""

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from registry.animals.models import Group, LifeStage, Mark, Parentage, Restriction, Sex, Side
from registry.saying import day_said


@dataclass
class Section:
    """A heading over facts, over a table, or over lines; `empty` says why there are none."""

    heading: str
    facts: list[tuple[str, str]] = field(default_factory=list)
    heads: list[str] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    empty: str = ""


def sections(content: dict[str, Any]) -> list[dict[str, Any]]:
    """Give the sections of a dossier, in the order in which its receiver needs them."""
    makers: Iterable[Callable[[dict[str, Any]], Section]] = (
        _unfinished,
        _identity,
        _marks,
        _parents,
        _loans,
        _restrictions,
        _research,
        _uses,
        _datasets,
        _residences,
    )
    return [asdict(make(content)) for make in makers]


def _day(said: str) -> str:
    return day_said(date.fromisoformat(said)) if said else ""


def _spaced(word: str) -> str:
    return word.replace("_", " ")


def _unfinished(content: dict[str, Any]) -> Section:
    return Section(
        _("To know before it is used in research"),
        lines=content["unfinished"],
        empty=_("Nothing is unfinished: no project, no restriction, no severity to be told."),
    )


def _identity(content: dict[str, Any]) -> Section:
    one = content["subject"]
    facts = [
        (_("Code"), one["code"]),
        (_("Name"), one["name"]),
        (_("Species"), f"{one['common_name']}, {one['scientific_name']}"),
        (_("Life stage"), LifeStage(one["life_stage"]).label),
    ]
    if one["kind"] == "animal":
        facts += [
            (_("Sex"), Sex(one["sex"]).label),
            (_("Born or hatched"), _day(one["born_on"]) or _("not known")),
            (_("Origin"), one["origin"]),
        ]
    else:
        numbers = f"{one['males']}.{one['females']}.{one['unknown']}"
        facts += [
            (_("Kind of group"), Group.Sort(one["sort"]).label),
            (_("Males.females.unknown"), numbers),
        ]
    facts += [
        (_("Owner"), one["owner"]),
        (_("Arrived"), _day(one["arrived_on"])),
        (_("Left"), _day(one["left_on"])),
    ]
    return Section(_("Who it is"), facts=[(term, fact) for term, fact in facts if fact])


def _loans(content: dict[str, Any]) -> Section:
    return Section(
        _("On loan"),
        heads=[_("Owner"), _("Holder"), _("From"), _("Until"), _("Terms")],
        rows=[
            [
                one["owner"],
                one["holder"],
                _day(one["from"]),
                _day(one["ended_on"]) or _day(one["expected_end_on"]) or _("no end was agreed"),
                one["terms"],
            ]
            for one in content.get("loans", [])  # a dossier of before says nothing of loans
        ],
        empty=_("It was never on loan."),
    )


def _marks(content: dict[str, Any]) -> Section:
    return Section(
        _("How it is told apart"),
        heads=[
            _("Kind"),
            _("Code or description"),
            _("Where"),
            _("Seen"),
            _("Readers"),
            _("Until"),
        ],
        rows=[
            [
                Mark.Sort(one["sort"]).label,
                one["said"],
                Side(one["side"]).label if one["side"] else "",
                _day(one["seen_on"]),
                _("%(agreed)s of %(made)s agree")
                % {"agreed": one["readers_agreed"], "made": one["readers"]}
                if one["readers"]
                else _("no second reader"),
                _day(one["ended_on"]),
            ]
            for one in content["marks"]
        ],
        empty=_("No mark or chip is recorded: only its code and where it lived tell it apart."),
    )


def _parents(content: dict[str, Any]) -> Section:
    return Section(
        _("Whose young one it is"),
        heads=[_("Parent"), _("Which"), _("Evidence"), _("Note")],
        rows=[
            [
                Parentage.Role(one["role"]).label,
                one["parent"] or _("one of %(names)s") % {"names": ", ".join(one["candidates"])},
                Parentage.Evidence(one["evidence"]).label,
                one["note"],
            ]
            for one in content["parents"]
        ],
        empty=_("No parent is recorded."),
    )


def _restrictions(content: dict[str, Any]) -> Section:
    return Section(
        _("What stands on it"),
        heads=[_("Why"), _("Bars"), _("On"), _("From"), _("Expected end"), _("Note")],
        rows=[
            [
                Restriction.Sort(one["sort"]).label,
                Restriction.Strength(one["strength"]).label,
                one["on"],
                _day(one["from"]),
                _day(one["expected_end_on"]),
                one["note"],
            ]
            for one in content["restrictions"]
        ],
        empty=_("No restriction stood on it."),
    )


def _research(content: dict[str, Any]) -> Section:
    return Section(
        _("Projects in which it stood"),
        heads=[_("Project"), _("As"), _("From"), _("Until"), _("Treatment"), _("Actual severity")],
        rows=[
            [
                f"{one['study']}, {one['cohort']}",
                one["code"],
                _day(one["from"]),
                _day(one["left_on"]) or _("still enrolled"),
                one["arm"],
                one["actual_severity"],
            ]
            for one in content["research"]
        ],
        empty=_("It was enrolled in no project."),
    )


def _uses(content: dict[str, Any]) -> Section:
    return Section(
        _("What was done with it"),
        heads=[
            _("Project"),
            _("Procedure"),
            _("Times"),
            _("First"),
            _("Last"),
            _("Highest severity"),
        ],
        rows=[
            [
                f"{one['study']}, {one['cohort']}",
                f"{one['procedure']} ({_('hands-on') if one['is_contact'] else _('watched')})",
                str(one["times"]),
                _day(one["first"]),
                _day(one["last"]),
                one["highest_severity"],
            ]
            for one in content["uses"]
        ],
        empty=_("No use of it in research is recorded."),
    )


def _datasets(content: dict[str, Any]) -> Section:
    return Section(
        _("Where the data lie"),
        heads=[_("Dataset"), _("Version"), _("Identifier"), _("Open?")],
        rows=[
            [
                one["title"],
                one["version"],
                one["identifier"],
                _("embargoed until %(day)s") % {"day": _day(one["embargoed_until"])}
                if one["embargoed_until"]
                else _spaced(one["access"]),
            ]
            for one in content["datasets"]
        ],
        empty=_("No data of a project in which it stood are archived."),
    )


def _residences(content: dict[str, Any]) -> Section:
    return Section(
        _("Where it lived"),
        heads=[_("In"), _("From"), _("Until")],
        rows=[
            [one["in"], _day(one["from"]), _day(one["until"]) or _("now")]
            for one in content["residences"]
        ],
        empty=_("No place is recorded."),
    )
