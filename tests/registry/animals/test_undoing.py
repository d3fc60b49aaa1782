"""What was brought in by mistake is undone as one deed, or not at all, and nothing is deleted."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from registry.animals import actions
from registry.animals.intake.reading import Sheet, read
from registry.animals.models import Animal, Event, Group, Intake, Mark, Taxon
from registry.animals.stockbook import book_of
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.ledger.proof import check
from registry.people.models import Person
from registry.permissions import Role, Verb
from registry.search.index import find
from tests.worlds.animals import (
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
    make_taxon,
)
from tests.worlds.kin import make_parent
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]
HEAD = "code,name,taxon,enclosure,arrived_on,chip,sort,unknown"
WHY = "The wrong file was sent."

type Brings = Callable[..., Intake]


@pytest.fixture
def curator() -> Person:
    person = make_person(Role.CURATOR)
    make_taxon(by=person)
    make_enclosure("Q1", by=person)
    return person


@pytest.fixture
def sheet(tmp_path: Path) -> Callable[[int], Sheet]:
    def give(n: int) -> Sheet:
        rows = [f"UR-{i},Ray {i},Raja undulata,Q1,2024-03-01,9851120{i:08},," for i in range(n)]
        path = tmp_path / "list.csv"
        path.write_text("\n".join([HEAD, *rows, "LF-1,,Raja undulata,Q1,2024-03-01,,shoal,12"]))
        return read(path, file_name="list.csv", sha256="0" * 64)

    return give


def test_a_list_is_undone_as_one_deed_and_can_be_brought_in_again(
    curator: Person, sheet: Callable[[int], Sheet]
) -> None:
    intake = actions.import_animals(sheet(3), by=curator)
    held = book_of(2024, Taxon.objects.all())
    assert held[0].line.held_at_end.total == 15
    actions.undo_intake(intake, reason=WHY, by=curator)
    intake.refresh_from_db()
    assert intake.state == "undone"
    # Nothing is deleted, nobody is here, and nobody ever was.
    assert set(Animal.objects.values_list("state", "enclosure")) == {("undone", None)}
    assert set(Group.objects.values_list("state", "enclosure")) == {("undone", None)}
    assert Event.objects.standing().count() == 0
    assert not Mark.objects.filter(ended_on=None).exists()
    assert book_of(2024, Taxon.objects.all()) == []
    verbs = list(Entry.objects.order_by("-number").values_list("verb", flat=True)[:5])
    assert verbs == [Verb.INTAKE_UNDO, Verb.GROUP_UNDO, *[Verb.ANIMAL_UNDO] * 3]
    assert check(with_subjects=True)[0] == []
    # The same list, codes and chips comes in again.
    again = actions.import_animals(sheet(3), by=curator)
    assert again.animals_brought == 3
    assert Animal.objects.filter(state="kept", code="UR-0").count() == 1
    with pytest.raises(Conflict):
        actions.undo_intake(intake, reason=WHY, by=curator)


def moved(animal: Animal, by: Person) -> None:
    actions.move_animal(
        animal, enclosure=make_enclosure(by=by), happened_on=date(2025, 1, 1), by=by
    )


def restricted(animal: Animal, by: Person) -> None:
    make_restriction(animal, by=by)


def is_parent(animal: Animal, by: Person) -> None:
    make_parent(make_animal(by=by), "dam", animal)


def died(animal: Animal, by: Person) -> None:
    actions.leave_animal(animal, sort="died", happened_on=date(2025, 1, 1), by=by)


@pytest.mark.parametrize("later", [moved, restricted, is_parent, died])
def test_where_more_is_recorded_of_one_nothing_of_the_list_is_undone(
    curator: Person, sheet: Callable[[int], Sheet], later: Callable[[Animal, Person], None]
) -> None:
    intake = actions.import_animals(sheet(3), by=curator)
    one = Animal.objects.get(code="UR-1")
    later(one, curator)
    with pytest.raises(Conflict, match="Ray 1") as refused:
        actions.undo_intake(intake, reason=WHY, by=curator)
    assert "More is recorded" in refused.value.why
    assert not Animal.objects.filter(state="undone").exists()
    assert Intake.objects.get().state == "brought"
    with pytest.raises(Conflict):
        actions.undo_animal(one, reason=WHY, by=curator)


def test_one_animal_or_group_is_undone_by_itself(curator: Person) -> None:
    ray, shoal = make_animal(code="UR-9", by=curator), make_group(code="LF-9", by=curator)
    with pytest.raises(Unsound):
        actions.undo_animal(ray, reason=" ", by=curator)
    actions.undo_animal(ray, reason=WHY, by=curator)
    actions.undo_group(shoal, reason=WHY, by=curator)
    ray.refresh_from_db()
    assert (ray.state, ray.code) == ("undone", f"UR-9 (undone {ray.pk})")
    assert make_animal(code="UR-9", by=curator).state == "kept"
    assert check(with_subjects=True)[0] == []
    for again in (lambda: actions.undo_animal(ray, reason=WHY, by=curator),
                  lambda: actions.undo_group(shoal, reason=WHY, by=curator)):  # fmt: skip
        with pytest.raises(Conflict):
            again()


def test_a_keeper_undoes_nothing(curator: Person, sheet: Callable[[int], Sheet]) -> None:
    intake = actions.import_animals(sheet(1), by=curator)
    keeper = make_person(Role.KEEPER)
    with pytest.raises(NotPermitted):
        actions.undo_intake(intake, reason=WHY, by=keeper)
    for one, undo in ((Animal.objects.get(), actions.undo_animal),
                      (Group.objects.get(), actions.undo_group)):  # fmt: skip
        with pytest.raises(NotPermitted):
            undo(one, reason=WHY, by=keeper)  # type: ignore[arg-type]


def test_a_long_list_is_undone_with_few_queries(
    curator: Person, sheet: Callable[[int], Sheet]
) -> None:
    counts = []
    for n in (10, 400):
        intake = actions.import_animals(sheet(n), by=curator)
        with CaptureQueriesContext(connection) as queries:
            actions.undo_intake(intake, reason=WHY, by=curator)
        counts.append(len(queries))
    assert counts[1] - counts[0] < 30  # words that are new, five hundred at a time; none a row


def test_the_page_offers_it_and_says_what_became_of_the_list(
    client: Client, curator: Person, sheet: Callable[[int], Sheet]
) -> None:
    intake = actions.import_animals(sheet(2), by=curator)
    client.force_login(curator)
    page = client.get(intake.get_absolute_url()).content.decode()
    assert "/undo/" in page
    answer: Any = client.post(f"{intake.get_absolute_url()}undo/", {"reason": WHY})
    assert answer.status_code == 302, answer.content.decode()
    page = client.get(intake.get_absolute_url()).content.decode()
    assert "undone" in page
    assert "/undo/" not in page
    one = Animal.objects.order_by("pk")[0]
    page = client.get(one.get_absolute_url()).content.decode()
    assert "brought in by mistake" in page
    listed = client.get("/animals/").content.decode()
    assert "Ray 1" not in listed
    assert "Ray 1" in client.get("/animals/?word=mistaken").content.decode()
    assert one.get_absolute_url() in {hit.url for hit in find("Ray", curator)}
