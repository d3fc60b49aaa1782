"""The columns of a file of animals: one list for the template, the page and the reader."""

import re
from dataclasses import dataclass

from registry.animals.models import Group, LifeStage, Parentage, Sex, TaxonClass


@dataclass(frozen=True)
class Column:
    """A column: its name in the header row, what it holds, and whether it must be filled."""

    name: str
    meaning: str
    need: str = ""
    also: tuple[str, ...] = ()


ALWAYS = "always"
EVIDENCE = [one for one in Parentage.Evidence.choices if one[0] != "only_present"]
"""How a parent may be known; that no other could be is shown on the animal's page, not claimed."""

COLUMNS: tuple[Column, ...] = (
    Column("code", "Its number in your records; no two may bear the same.", ALWAYS, ("id",)),
    Column("name", "What keepers call it. A group without a name takes its code.", "", ("animal",)),
    Column(
        "taxon",
        "Scientific name, as in Raja undulata.",
        ALWAYS,
        ("scientific name", "species", "latin name"),
    ),
    Column(
        "sex",
        f"{', '.join(Sex.values)}; f and m will do. Blank: unknown. Not for groups.",
    ),
    Column(
        "life_stage",
        f"{', '.join(LifeStage.values)}. Blank: adult.",
        "",
        ("stage",),
    ),
    Column("enclosure", "The code of the enclosure where it lives.", ALWAYS, ("tank",)),
    Column(
        "arrived_on",
        "2026-11-24 is always understood. 24/11/2026 too, where the column shows which number is"
        " the day; else you are asked.",
        ALWAYS,
        ("arrived", "arrival"),
    ),
    Column("origin", "Where it came from."),
    Column(
        "born_on",
        "The day of birth or hatching; the same day as the arrival if it was born here.",
        "",
        ("born", "birth", "hatched on"),
    ),
    Column(
        "chip",
        "The fifteen digits of its chip, or the nine or ten signs of an older one. Format the"
        " column as text, or a spreadsheet rounds it.",
        "",
        ("microchip",),
    ),
    Column("dam", "The code of its dam, in the register or in this list.", "", ("mother",)),
    Column(
        "dam_evidence",
        f"How one knows: {', '.join(value for value, _ in EVIDENCE)}. Blank: assumed, and an"
        " assumed parent is never reckoned with.",
    ),
    Column("sire", "The code of its sire, in the register or in this list.", "", ("father",)),
    Column("sire_evidence", "As for the dam."),
    Column("owner", "The institution that owns it, as the register names it. Blank: this one."),
    Column(
        "sort",
        f"Only for animals that are counted, not told apart: {', '.join(Group.Sort.values)}.",
        "for groups",
        ("kind of group",),
    ),
    Column("males", "How many males a group has.", "one of the three, for groups"),
    Column("females", "How many females a group has.", "one of the three, for groups"),
    Column("unknown", "How many of unknown sex a group has.", "one of the three, for groups"),
    Column(
        "taxon_class",
        f"Only for a taxon that is not in the register: {', '.join(TaxonClass.values)}.",
        "for a new taxon",
        ("class",),
    ),
    Column("common_name", "Only for a taxon that is not in the register.", "for a new taxon"),
    Column(
        "enclosure_name",
        "Only for an enclosure that is not in the register. Blank: its code.",
    ),
    Column(
        "enclosure_on_show",
        "Only for an enclosure that is not in the register: yes where visitors can see into it."
        " Blank: no.",
    ),
)

BY_NAME = {column.name: column for column in COLUMNS}
NEEDED = tuple(column.name for column in COLUMNS if column.need == ALWAYS)
GROUP_NUMBERS = ("males", "females", "unknown")
_GAPS = re.compile(r"[\s_.-]+")


def key_of(label: str) -> str:
    """Give a label as it is compared: small letters, one blank where signs or blanks were."""
    return _GAPS.sub(" ", label).strip().casefold()


_BY_KEY = {key_of(said): column.name for column in COLUMNS for said in (column.name, *column.also)}


def named(label: str) -> str:
    """Give the column that a label of the header row means; nothing where there is none."""
    return _BY_KEY.get(key_of(label), "")


def template() -> str:
    """Give the blank template: its header row."""
    return ",".join(column.name for column in COLUMNS) + "\r\n"
