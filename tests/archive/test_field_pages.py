"""Fields found by what they are called, in what, of which animal; and who holds one."""

import pytest
from django.test import Client

from archive.models import Version
from registry.permissions import Role
from tests.worlds.archive import descriptor, make_dictionary, make_version
from tests.worlds.people import make_person
from tests.worlds.projects import make_study

pytestmark = pytest.mark.django_db


def mark_of(version: Version, name: str) -> str:
    """Give the permanent id of a field."""
    fields = version.descriptor["resources"][0]["schema"]["fields"]
    return str(next(field["x:fieldId"] for field in fields if field["name"] == name))


@pytest.mark.postgres
def test_who_has_ever_measured_a_thing_is_found_by_words_unit_animal_and_procedure(
    client: Client,
) -> None:
    version = make_version()
    project = version.dataset.project
    other = descriptor()
    other["resources"][0]["schema"]["fields"] = [
        {"name": "spiracle", "title": "Ventilation rate", "type": "number", "x:unit": "/min"}
    ]
    other["resources"][0]["schema"].pop("primaryKey")
    made = make_dictionary(make_study(title="Breathing of rays"), **other)
    mark = made.descriptor["resources"][0]["schema"]["fields"][0]["x:fieldId"]
    client.force_login(make_person(Role.KEEPER))

    def found(**asked: object) -> str:
        return client.get("/archive/fields/", asked).content.decode()

    address = f"/archive/fields/{mark}/"
    assert address in found(q="ventilation rate undulate ray")
    assert address in found(q="Who has ever measured ventilation rate in rays?")
    assert address in found(taxon=project.study.taxon_id)
    assert address not in found(q="depth")
    depth = f"/archive/fields/{mark_of(version, 'depth')}/"
    assert depth in found(q="depth")
    procedure = project.plan.procedures.all()[0].name
    assert depth in found(q=f"depth {procedure}")
    assert "No field has these words." in found(q="temperature of the sea bed")
    page = client.get(depth).content.decode()
    assert version.get_absolute_url() in page
    assert "Depth" in page
    assert "version 1" in page
    assert client.get("/archive/fields/fnothing/").status_code == 404
    # The newest dictionary explains it; the page tells what it meant before.
    newer = descriptor()["resources"]
    newer[0]["schema"]["fields"][4] |= {"description": "From the surface, to the disc."}
    second = make_dictionary(project.study, resources=newer)
    page = client.get(depth).content.decode()
    assert "From the surface, to the disc." in page
    assert f"{second.get_absolute_url()}#field-" in page
    assert "version 1" in page
