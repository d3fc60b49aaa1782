"""The collection as tables that leave: in the columns of an import, and in Darwin Core terms."""

from collections.abc import Iterator
from typing import Any
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from django.db.models import QuerySet
from django.utils import timezone

from registry.animals.intake.columns import COLUMNS
from registry.animals.models import Animal, Group, Mark, Parentage, Sex
from registry.animals.stock import Count

AT_ONCE = 2_000
_CLAIMED = {Parentage.Evidence.ONLY_PRESENT.value: Parentage.Evidence.ASSUMED.value}
"""A list may not claim that no other could be: where it comes in, that was not looked into."""
_CODES = (Mark.Sort.CHIP, Mark.Sort.OTHER_CODE)


def _read(rows: QuerySet[Any], *related: str) -> Iterator[Any]:
    """Stream rows with all that a line of theirs needs; a query for each 2,000."""
    found = rows.select_related("taxon", "enclosure", "owner").order_by("code")
    return found.prefetch_related(*related).iterator(chunk_size=AT_ONCE)


def _shared(one: Animal | Group) -> dict[str, object]:
    home = one.enclosure
    return {
        "code": one.code,
        "name": one.name,
        "taxon": one.taxon.scientific_name,
        "life_stage": one.life_stage,
        "enclosure": home.code if home else "",
        "arrived_on": one.arrived_on,
        "owner": one.owner.name if one.owner else "",
        "taxon_class": one.taxon.taxon_class,
        "common_name": one.taxon.common_name,
        "enclosure_name": home.name if home else "",
        "enclosure_on_show": ("yes" if home.is_on_show else "no") if home else "",
    }


def _chip(animal: Animal) -> str:
    held = [one for one in animal.marks.all() if one.sort in _CODES and one.ended_on is None]
    return min(held, key=lambda one: (one.sort, one.pk)).said if held else ""


def as_lists(animals: QuerySet[Animal], groups: QuerySet[Group]) -> Iterator[list[object]]:
    """Give a heading and a row for each, in the columns in which lists are brought in.

    What was exported is known again when it is brought in: every row is the same.
    """
    yield [column.name for column in COLUMNS]
    for one in _read(animals, "marks", "parentage__parent"):
        own = {
            "sex": one.sex,
            "origin": one.origin,
            "born_on": one.born_on or "",
            "chip": _chip(one),
            **_named_parents(one),
        }
        yield _row(_shared(one) | own)
    for one in _read(groups, "parentage__parent"):
        numbers = {"males": one.males, "females": one.females, "unknown": one.unknown}
        yield _row(_shared(one) | {"sort": one.sort} | numbers | _named_parents(one))


def _named_parents(one: Animal | Group) -> dict[str, object]:
    """Give the parents that are named, with how one knows; candidates are no parents."""
    told: dict[str, object] = {}
    for held in one.parentage.all():
        if held.replaced_at is None and held.parent is not None:
            told[held.role] = held.parent.code
            told[f"{held.role}_evidence"] = _CLAIMED.get(held.evidence, held.evidence)
    return told


def _row(cells: dict[str, object]) -> list[object]:
    return [cells.get(column.name, "") for column in COLUMNS]


TERMS = (
    "occurrenceID",
    "basisOfRecord",
    "organismID",
    "organismName",
    "organismScope",
    "individualCount",
    "sex",
    "lifeStage",
    "scientificName",
    "vernacularName",
    "eventDate",
    "locationID",
    "locality",
    "otherCatalogNumbers",
    "associatedOrganisms",
    "organismRemarks",
)
"""Terms of Darwin Core (TDWG, http://rs.tdwg.org/dwc/terms/), in the order of the columns.

An occurrence is the stay of one organism here: its eventDate is an interval of ISO 8601-1, up to
today while it lasts. establishmentMeans speaks of wild populations, and is left out.
"""


def as_darwin_core(animals: QuerySet[Animal], groups: QuerySet[Group]) -> Iterator[list[object]]:
    """Give a heading and a row for each stay, in Darwin Core terms.

    References
    ----------
    Darwin Core Maintenance Group (2023), Darwin Core quick reference guide, TDWG.
    """
    yield list(TERMS)
    for one in _read(animals, "marks", "parentage__parent"):
        own = {
            "organismScope": "individual",
            "individualCount": 1,
            "sex": "" if one.sex == Sex.UNKNOWN else one.sex,
            "otherCatalogNumbers": _chip(one),
            "associatedOrganisms": " | ".join(_parents(one)),
            "organismRemarks": one.origin,
        }
        yield _terms(one, own)
    for one in _read(groups):
        number = Count(one.males, one.females, one.unknown)
        remark = f"{one.sort}; males.females.unknown {number}"
        own = {"organismScope": "group", "individualCount": number.total, "organismRemarks": remark}
        yield _terms(one, own)


CORE_FILE = "occurrence.csv"
_DWC = "http://rs.tdwg.org/dwc/terms/"


def archive_meta() -> str:
    """Give the metafile of an archive whose core is the table of stays.

    References
    ----------
    Darwin Core Maintenance Group (2021), Darwin Core text guide, TDWG: sections 2.1 to 2.4.
    """
    root = Element("archive", {"xmlns": "http://rs.tdwg.org/dwc/text/"})
    about = {
        "encoding": "UTF-8",
        "fieldsTerminatedBy": ",",
        "linesTerminatedBy": "\\r\\n",
        "fieldsEnclosedBy": '"',
        "ignoreHeaderLines": "1",
        "rowType": f"{_DWC}Occurrence",
    }
    core = SubElement(root, "core", about)
    SubElement(SubElement(core, "files"), "location").text = CORE_FILE
    SubElement(core, "id", {"index": str(TERMS.index("occurrenceID"))})
    for index, term in enumerate(TERMS):
        SubElement(core, "field", {"index": str(index), "term": f"{_DWC}{term}"})
    indent(root)
    return tostring(root, encoding="unicode", xml_declaration=True) + "\n"


def _parents(animal: Animal) -> list[str]:
    return [
        f'"offspring of":"{one.parent.code}"'
        for one in animal.parentage.all()
        if one.parent is not None and one.replaced_at is None and one.is_certain
    ]


def _terms(one: Animal | Group, own: dict[str, object]) -> list[object]:
    until = (one.left_on or timezone.localdate()).isoformat()
    cells: dict[str, object] = {
        "occurrenceID": f"{one.code}/{one.arrived_on.isoformat()}",
        "basisOfRecord": "LivingSpecimen",
        "organismID": one.code,
        "organismName": one.name,
        "lifeStage": one.life_stage,
        "scientificName": one.taxon.scientific_name,
        "vernacularName": one.taxon.common_name,
        "eventDate": f"{one.arrived_on.isoformat()}/{until}",
        "locationID": one.enclosure.code if one.enclosure else "",
        "locality": one.enclosure.name if one.enclosure else "",
        **own,
    }
    return [cells.get(term, "") for term in TERMS]


def chosen(
    animals: QuerySet[Animal], groups: QuerySet[Group], asked: dict[str, Any]
) -> tuple[QuerySet[Animal], QuerySet[Group]]:
    """Narrow both as the list of the collection is narrowed."""
    today = timezone.localdate()
    both: list[Any] = [animals.with_word(today), groups.with_word(today)]  # type: ignore[attr-defined]  # why: both kinds have it
    for name in ("taxon", "enclosure"):
        if asked.get(name):
            both = [rows.filter(**{name: asked[name]}) for rows in both]
    word = asked.get("word")
    narrowed = [rows.filter(word=word) if word else rows.filter(state="kept") for rows in both]
    return narrowed[0], narrowed[1]
