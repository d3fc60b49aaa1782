"""Lists that say whose young each animal is: known, possible, and nobody its own ancestor."""

from collections.abc import Callable
from pathlib import Path

import pytest

from registry.animals import actions
from registry.animals.intake.reading import Sheet, read
from registry.animals.intake.weighing import weigh
from registry.animals.models import Animal, Parentage
from registry.animals.pedigrees import lineage_of
from registry.ledger.proof import check
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_enclosure, make_taxon
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
HEAD = "code,taxon,sex,enclosure,arrived_on,born_on,dam,dam_evidence,sire,sire_evidence"

type Reads = Callable[..., Sheet]


@pytest.fixture
def curator() -> Person:
    person = make_person(Role.CURATOR)
    taxon = make_taxon(by=person)
    home = make_enclosure("Q1", by=person)
    make_animal(code="MA", sex="female", taxon=taxon, enclosure=home, born_on=days_ago(900),
                by=person)  # fmt: skip
    return person


@pytest.fixture
def reads(tmp_path: Path) -> Reads:
    def give(*rows: str) -> Sheet:
        path = tmp_path / "list.csv"
        path.write_text("\n".join([HEAD, *rows]))
        return read(path, file_name="list.csv", sha256="0" * 64)

    return give


def ray(code: str, *, sex: str = "f", day: int = 300, dam: str = "", sire: str = "") -> str:
    born = days_ago(day).isoformat()
    return f"{code},Raja undulata,{sex},Q1,{born},{born},{dam},seen_birth,{sire},"


def test_parents_of_the_register_and_of_the_list_come_in_with_their_evidence(
    curator: Person, reads: Reads
) -> None:
    sheet = reads(ray("PUP", dam="ma", sire="PA"), ray("PA", sex="m", day=800))
    intake = actions.import_animals(sheet, by=curator)
    pup, pa, ma = (Animal.objects.get(code=code) for code in ("PUP", "PA", "MA"))
    told = {one.role: (one.parent, one.evidence) for one in pup.parentage.all()}
    assert told == {"dam": (ma, "seen_birth"), "sire": (pa, "assumed")}
    # An assumed sire is never reckoned with.
    held = lineage_of([pup.taxon])
    assert (held.parents[pup.pk], held.uncertain) == ({"dam": ma.pk}, {pup.pk})
    assert check(with_subjects=True)[0] == []
    assert weigh(sheet).seen == "2s"
    actions.undo_intake(intake, reason="The wrong file.", by=curator)
    assert not Parentage.objects.standing().exists()
    assert check(with_subjects=True)[0] == []


def test_two_that_name_each_other_are_refused_with_their_rows_and_the_rest_is_seen(
    curator: Person, reads: Reads
) -> None:
    a, b = ray("A", dam="B"), ray("B", sex="u", dam="A")
    trial = weigh(reads(ray("FREE", dam="MA"), a, b, ray("UNDER", dam="A", day=200)))
    assert [one.outcome.value for one in trial.rows] == ["n", "x", "x", "n"]
    # Their birthdays are the same, so each is told by that; without them see the last test.
    assert {(one.row, one.column) for one in trial.faults} == {(3, "dam"), (4, "dam")}


@pytest.mark.parametrize(
    ("row", "column", "why"),
    [
        (ray("X", dam="NOBODY"), "dam", "No animal has this code"),
        (ray("X", sire="MA"), "sire", "It is female, and cannot be a sire"),
        (ray("X", dam="MA", day=900), "dam", "not before its young"),
        (ray("X", dam="X"), "dam", "not before its young"),
        (ray("X", dam="MA").replace("seen_birth", "only_present"), "dam_evidence", "Write one of"),
        (ray("X", dam="OCT"), "dam", "It is of another taxon"),
    ],
)
def test_a_parent_that_cannot_be_is_told_with_its_row(
    curator: Person, reads: Reads, row: str, column: str, why: str
) -> None:
    make_animal(code="OCT", sex="female", taxon=make_taxon("Octopus vulgaris"), by=curator)
    trial = weigh(reads(ray("FREE"), row))
    assert [(one.row, one.column) for one in trial.faults] == [(3, column)]
    assert why in trial.faults[0].say
    assert trial.rows[0].outcome.value == "n"


def test_an_animal_that_would_be_its_own_ancestor_is_refused_with_its_row(
    curator: Person, reads: Reads
) -> None:
    def bare(code: str, dam: str) -> str:
        return f"{code},Raja undulata,f,Q1,{days_ago(30).isoformat()},,{dam},genetic,,"

    trial = weigh(reads(bare("A", "B"), bare("B", "C"), bare("C", "A"), bare("D", "A")))
    assert [one.outcome.value for one in trial.rows] == ["x", "x", "x", "n"]
    assert all("own ancestor" in one.say for one in trial.faults)
