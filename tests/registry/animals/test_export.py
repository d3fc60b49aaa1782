"""The collection as it leaves: known again where it comes in, and named by open terms."""

import csv
import io
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from dwca.read import DwCAReader
from python_calamine import CalamineWorkbook

from registry.animals import actions
from registry.animals.export import TERMS, as_darwin_core, as_lists
from registry.animals.intake.keeping import keep
from registry.animals.intake.weighing import Outcome, weigh
from registry.animals.models import Animal, Group
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_animals, make_enclosure, make_group, make_taxon
from tests.worlds.kin import make_parent
from tests.worlds.people import make_institution, make_person

pytestmark = pytest.mark.django_db
CHIP = "985112001234567"
DWC = "http://rs.tdwg.org/dwc/terms/"


@pytest.fixture
def curator(settings: Any, tmp_path: Any) -> Person:
    """A curator, a ray that bears all that a ray can, her young, a shoal, and one that left."""
    settings.UPLOADS = tmp_path / "uploads"
    by = make_person(Role.CURATOR)
    shared: dict[str, Any] = {"taxon": make_taxon(by=by), "enclosure": make_enclosure("T1", by=by)}
    morwen = make_animal(
        code="UR-1", name="Morwen", sex="female", born_on=date(2017, 3, 2), origin="=cmd",
        arrived_on=date(2018, 3, 1), owner=make_institution("Norrholm University"), by=by, **shared,
    )  # fmt: skip
    actions.mark_animal(morwen, sort="tag", said="yellow 7", by=by)
    actions.mark_animal(morwen, sort="chip", said=CHIP, by=by)
    young = make_animal(code="UR-2", sex="unknown", life_stage="juvenile", by=by, **shared)
    make_parent(young, "dam", morwen, evidence="seen_birth")
    make_group(code="LF-1", males=1, females=2, unknown=9, by=by, **shared)
    gone = make_animal(code="UR-3", by=by, **shared)
    actions.leave_animal(gone, sort="departed", happened_on=date(2026, 11, 1), by=by)
    return by


def rows_of(answer: Any) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(b"".join(answer).decode())))


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_what_was_exported_is_known_again_when_it_is_brought_in(
    client: Client, curator: Person, kind: str
) -> None:
    client.force_login(curator)
    answer: Any = client.get(f"/animals/animals.{kind}")
    assert f'.{kind}"' in answer["Content-Disposition"]
    held = keep(SimpleUploadedFile(f"animals.{kind}", b"".join(answer)), curator)
    trial = weigh(held.read())
    assert trial.faults == ()
    outcomes = {one.code: one.outcome for one in trial.rows}
    assert outcomes == dict.fromkeys(("UR-1", "UR-2", "LF-1"), Outcome.SAME)


def test_no_cell_of_the_csv_is_run_by_a_spreadsheet(client: Client, curator: Person) -> None:
    client.force_login(curator)
    rows = rows_of(client.get("/animals/animals.csv"))
    assert rows[0]["origin"] == "'=cmd"


def test_a_workbook_holds_days_as_days_codes_as_text_and_no_formula(
    client: Client, curator: Person
) -> None:
    client.force_login(curator)
    answer: Any = client.get("/animals/animals.xlsx")
    book = CalamineWorkbook.from_filelike(io.BytesIO(b"".join(answer)))
    head, first, *_rest = book.get_sheet_by_index(0).to_python()
    row = dict(zip(head, first, strict=True))
    assert row["arrived_on"] == date(2018, 3, 1)
    assert row["chip"] == CHIP
    assert row["origin"] == "=cmd"


def test_darwin_core_names_each_organism_its_scope_and_its_parents(
    client: Client, curator: Person
) -> None:
    client.force_login(curator)
    rows = {row["organismID"]: row for row in rows_of(client.get("/animals/darwin-core.csv"))}
    assert set(rows) == {"UR-1", "UR-2", "LF-1"}
    assert {row["basisOfRecord"] for row in rows.values()} == {"LivingSpecimen"}
    morwen, young, shoal = rows["UR-1"], rows["UR-2"], rows["LF-1"]
    assert (morwen["organismScope"], morwen["individualCount"], morwen["sex"]) == (
        "individual", "1", "female",
    )  # fmt: skip
    assert morwen["otherCatalogNumbers"] == CHIP
    assert morwen["eventDate"].startswith("2018-03-01/")
    assert young["associatedOrganisms"] == '"offspring of":"UR-1"'
    assert (young["sex"], young["lifeStage"]) == ("", "juvenile")
    assert (shoal["organismScope"], shoal["individualCount"]) == ("group", "12")
    assert shoal["organismRemarks"].endswith("males.females.unknown 1.2.9")


@pytest.mark.outside
def test_the_terms_are_those_of_the_standard() -> None:
    # Darwin Core quick reference guide, TDWG 2023: Record-level, Organism, Occurrence, Event,
    # Location and Taxon. Read in a summary; establishmentMeans must not be there.
    published = {
        "occurrenceID", "basisOfRecord", "organismID", "organismName", "organismScope",
        "individualCount", "sex", "lifeStage", "scientificName", "vernacularName", "eventDate",
        "locationID", "locality", "otherCatalogNumbers", "associatedOrganisms", "organismRemarks",
    }  # fmt: skip
    assert set(TERMS) == published
    assert len(TERMS) == len(set(TERMS))


@pytest.mark.outside
def test_a_reader_of_archives_finds_every_stay_by_its_term(
    client: Client, curator: Person, tmp_path: Path
) -> None:
    # python-dwca-reader reads an archive by its metafile alone (Darwin Core text guide, TDWG).
    Animal.objects.filter(code="UR-2").update(name='Ann, called "the quick"')
    client.force_login(curator)
    listed = rows_of(client.get("/animals/darwin-core.csv"))
    answer: Any = client.get("/animals/darwin-core.zip")
    assert answer["Content-Type"] == "application/zip"
    packed = tmp_path / "archive.zip"
    packed.write_bytes(answer.content)
    with DwCAReader(str(packed)) as archive:
        assert archive.descriptor is not None
        core = archive.descriptor.core
        assert core.type == f"{DWC}Occurrence"
        assert core.terms == {f"{DWC}{term}" for term in TERMS}
        assert core.id_index == TERMS.index("occurrenceID")
        read = [{term: row.data[f"{DWC}{term}"] for term in TERMS} for row in archive.rows]
        assert [row.id for row in archive.rows] == [one["occurrenceID"] for one in listed]
    assert read == listed


def test_the_list_is_narrowed_as_on_the_page(client: Client, curator: Person) -> None:
    client.force_login(curator)
    other = make_animal(taxon=make_taxon("Octopus vulgaris", taxon_class="cephalopod"), by=curator)
    asked = f"/animals/animals.csv?taxon={other.taxon_id}"
    assert [row["code"] for row in rows_of(client.get(asked))] == [other.code]
    left = rows_of(client.get("/animals/animals.csv?word=left"))
    assert [row["code"] for row in left] == ["UR-3"]
    page = client.get(f"/animals/?taxon={other.taxon_id}").content.decode()
    assert f'href="/animals/animals.csv?taxon={other.taxon_id}"' in page


def test_rows_stream_with_the_same_queries_for_few_and_for_many(curator: Person) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            list(as_lists(Animal.objects.all(), Group.objects.all()))
            list(as_darwin_core(Animal.objects.all(), Group.objects.all()))
        return len(queries)

    few = asked()
    make_animals(12, by=curator)
    assert asked() == few == 11
