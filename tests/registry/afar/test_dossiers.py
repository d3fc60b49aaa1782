"""The dossier: whole, the same for everyone, as page, print and file."""

import io
import json

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from pypdf import PdfReader

from registry.afar.dossiers import gather
from registry.animals.actions import mark_animal, name_parent, withdraw_photograph
from registry.oversight.actions import discharge_animal
from registry.permissions import Role
from tests.worlds.afar import make_dossier
from tests.worlds.animals import make_animal, make_group, make_restriction
from tests.worlds.approvals import World, make_collecting
from tests.worlds.archive import make_version
from tests.worlds.identity import make_mark, make_photograph, make_reading
from tests.worlds.oversight import make_enrolled, make_use
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


@pytest.mark.postgres
def test_it_says_who_it_is_what_stands_on_it_and_what_it_went_through() -> None:
    world = make_collecting()
    enrolment = make_enrolled(world, 1)[0]
    animal = enrolment.animal
    assert animal is not None
    make_use(world, enrolment=enrolment)
    photograph = make_photograph(make_mark(animal, said="Nick, right wing"))
    make_reading(photograph.mark, animal)
    dam = make_animal(name="Loveday", taxon=animal.taxon)
    name_parent(animal, role="dam", parent=dam, evidence="genetic", by=make_person(Role.CURATOR))
    make_restriction(animal, sort="treatment")
    make_restriction(animal.enclosure, sort="moult")
    said = make_dossier(animal).content
    assert said["subject"]["code"] == animal.code
    (mark,) = said["marks"]
    assert (mark["said"], mark["side"]) == ("Nick, right wing", "right")
    assert (mark["readers_agreed"], mark["readers"]) == (1, 1)
    assert [one["sha256"] for one in mark["photographs"]] == [photograph.sha256]
    (parent,) = said["parents"]
    assert (parent["role"], parent["parent"]) == ("dam", f"Loveday ({dam.code})")
    assert {(one["sort"], one["on"]) for one in said["restrictions"]} == {
        ("treatment", "itself"),
        ("moult", str(animal.enclosure)),
    }
    assert said["research"][0]["code"] == enrolment.code
    assert (said["uses"][0]["times"], said["uses"][0]["is_contact"]) == (
        1,
        world.procedure.is_contact,
    )
    assert len(said["residences"]) == 1
    unfinished = " ".join(said["unfinished"])
    assert "not yet discharged" in unfinished
    assert unfinished.count("Under a restriction") == 2


def test_it_names_the_data_of_its_projects_and_no_others() -> None:
    world = make_collecting()
    enrolment = make_enrolled(world, 1)[0]
    version, other = make_version(project=world.project), make_version()
    said = make_dossier(enrolment.animal).content["datasets"]
    assert [one["identifier"] for one in said] == [version.identifier]
    assert version.identifier != other.identifier
    assert said[0]["citation"]


def test_a_group_has_a_dossier_too() -> None:
    said = make_dossier(make_group(males=2, females=3, unknown=4)).content
    assert (said["subject"]["males"], said["subject"]["unknown"], said["marks"]) == (2, 4, [])


def test_its_file_its_page_and_its_print_say_the_same() -> None:
    animal = make_animal(name="Morwen <b>7</b>")
    mark_animal(animal, sort="tag", said="#4 $x$ *gold*", by=make_person(Role.KEEPER))
    dossier = make_dossier(animal)
    browser = Client()
    browser.force_login(make_person(Role.AUDITOR))
    page = browser.get(dossier.get_absolute_url())
    assert "Morwen &lt;b&gt;7&lt;/b&gt;" in page.content.decode()
    file = browser.get(f"{dossier.get_absolute_url()}dossier.json")
    assert file.content.decode() == dossier.text
    assert json.loads(file.content)["marks"][0]["said"] == "#4 $x$ *gold*"
    printed = browser.get(f"{dossier.get_absolute_url()}dossier.pdf")
    assert printed.headers["Content-Type"] == "application/pdf"
    words = "".join(one.extract_text() for one in PdfReader(io.BytesIO(printed.content)).pages)
    assert "#4 $x$ *gold*" in words
    assert dossier.sha256 in words.replace("\n", "")


def test_its_print_shows_the_photographs_of_its_marks_but_none_that_was_withdrawn() -> None:
    animal = make_animal()
    photographs = [make_photograph(make_mark(animal)) for _ in range(2)]
    dossier = make_dossier(animal)
    browser = Client()
    browser.force_login(make_person(Role.CURATOR))
    address = f"{dossier.get_absolute_url()}dossier.pdf"
    assert _pictures(browser.get(address).content) == 2
    curator = make_person(Role.CURATOR)
    withdraw_photograph(photographs[0], reason="It shows a visitor.", by=curator)
    assert _pictures(browser.get(address).content) == 1


def _pictures(made: bytes) -> int:
    return sum(len(page.images) for page in PdfReader(io.BytesIO(made)).pages)


def test_whoever_may_not_read_every_use_sees_no_dossier() -> None:
    dossier = make_dossier()
    browser = Client()
    browser.force_login(make_person(Role.STUDENT))
    for end in ("", "dossier.json", "dossier.pdf"):
        assert browser.get(f"{dossier.get_absolute_url()}{end}").status_code == 404
    assert Client().get(dossier.get_absolute_url()).status_code == 302


def test_what_it_costs_does_not_grow_with_what_it_tells() -> None:
    world = make_collecting()
    first = make_enrolled(world, 1)[0]
    assert first.animal is not None
    make_photograph(make_mark(first.animal))
    few = _queries(world, first.animal)
    for _ in range(3):
        make_use(world, enrolment=first)
        make_restriction(
            first.animal, sort="moult" if _ == 0 else "welfare" if _ == 1 else "gravid"
        )
        mark_animal(first.animal, sort="tag", said=f"tag {_}", by=make_person(Role.KEEPER))
    assert _queries(world, first.animal) == few


def _queries(world: World, animal: object) -> int:
    fresh = type(animal).objects.select_related("taxon", "owner").get(pk=animal.pk)  # type: ignore[attr-defined]
    with CaptureQueriesContext(
        connection,
    ) as asked:
        gather(fresh, receiver="x", written_by=world.lead, written_at=timezone.now())
    return len(asked)


def test_what_is_finished_is_not_told_as_unfinished() -> None:
    world = make_collecting()
    enrolment = make_enrolled(world, 1)[0]
    discharge_animal(enrolment, left_on=timezone.localdate(), actual_severity=1, by=world.student)
    assert make_dossier(enrolment.animal).content["unfinished"] == []
