"""How animals are told apart: each refusal with the success beside it."""

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from registry.animals import actions
from registry.animals.models import Mark, Photograph, Reading
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.permissions import Role, can
from registry.search.models import SearchDocument
from tests.worlds.animals import days_ago, make_animal, make_taxon
from tests.worlds.identity import make_mark, make_photograph, make_picture, make_reading
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
CHIP = "985112001234567"


# ------------------------------------------------------------------------------------------ marks


def test_a_chip_is_kept_bare_however_the_reader_shows_it() -> None:
    first = make_mark(sort="chip", said="985 112 001 234 567", side="")
    actions.end_mark(first, ended_on=days_ago(0), reason="Entered wrongly.", by=make_person("vet"))
    # The same chip by its 64 bits, as some readers show it.
    second = make_mark(sort="chip", said="8000F65A13CB3687", side="")
    assert first.said == second.said == CHIP


@pytest.mark.postgres
def test_a_chip_is_borne_by_one_animal_at_a_time() -> None:
    bearer = make_animal(name="Morwen")
    mark = make_mark(bearer, sort="chip", said=CHIP)
    with pytest.raises(Conflict, match="Morwen bears it") as refused:
        make_mark(sort="chip", said=CHIP)
    assert "said" in refused.value.fields
    with pytest.raises(IntegrityError), transaction.atomic():
        Mark.objects.create(
            animal=make_animal(), sort="chip", said=CHIP, recorded_by=mark.recorded_by
        )
    actions.leave_animal(
        bearer, sort="departed", happened_on=days_ago(0), by=make_person(Role.CURATOR)
    )
    with pytest.raises(Conflict, match="Morwen bears it"):
        make_mark(sort="chip", said=CHIP)


@pytest.mark.parametrize(
    "said", ["98511200123456", "826274877906944", "999000000000001", "123456789012345", "a chip"]
)
def test_an_unsound_chip_is_refused_and_an_older_code_is_kept_unchecked(said: str) -> None:
    with pytest.raises(Unsound) as refused:
        make_mark(sort="chip", said=said)
    assert "said" in refused.value.fields
    assert make_mark(sort="other_code", said=said).said == said


def test_a_mark_is_seen_within_the_life_of_its_animal() -> None:
    animal = make_animal(born_on=days_ago(500))
    for day in (days_ago(501), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            make_mark(animal, seen_on=day)
        assert "seen_on" in refused.value.fields
    assert make_mark(animal, seen_on=days_ago(499)).seen_on == days_ago(499)


def test_the_same_words_may_stand_on_both_sides_and_once_on_each() -> None:
    animal = make_animal()
    make_mark(animal, said="Nick", side="left")
    make_mark(animal, said="Nick", side="right")
    with pytest.raises(Conflict, match="has it already"):
        make_mark(animal, said="nick", side="right")


def test_a_newer_mark_takes_the_place_of_one_which_stays_readable() -> None:
    keeper = make_person(Role.KEEPER)
    young = make_mark(said="Pale spots", seen_on=days_ago(300))
    given = {"said": "Brown bands", "seen_on": days_ago(5), "by": keeper}
    with pytest.raises(Unsound):
        actions.replace_mark(young, reason=" ", **given)
    with pytest.raises(Unsound) as refused:
        actions.replace_mark(young, reason="Grown.", **{**given, "seen_on": days_ago(301)})
    assert "seen_on" in refused.value.fields
    newer = actions.replace_mark(young, reason="Its juvenile pattern is gone.", **given)
    young.refresh_from_db()
    assert (young.state, young.ended_on, newer.replaces) == ("replaced", days_ago(5), young)
    assert list(young.animal.marks.borne()) == [newer]
    with pytest.raises(Conflict):
        actions.replace_mark(young, reason="Again.", **given)


def test_a_mark_that_is_no_more_is_not_looked_for() -> None:
    mark = make_mark(said="Left band green")
    kept = SearchDocument.objects.filter(folded_text__contains="green")
    assert kept.exists()
    vet = make_person(Role.VET)
    for day in (days_ago(1), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            actions.end_mark(mark, ended_on=day, reason="Lost.", by=vet)
        assert "ended_on" in refused.value.fields
    ended = actions.end_mark(mark, ended_on=days_ago(0), reason="Lost.", by=vet)
    assert (ended.state, ended.end_reason) == ("ended", "Lost.")
    assert not kept.exists()
    assert can(ended, vet) == []
    assert Entry.objects.get(verb="mark.end").reason == "Lost."


def test_another_name_is_found_and_tells_nobody_apart() -> None:
    mark = make_mark(sort="name", said="Old Ragged Edge", side="")
    assert SearchDocument.objects.filter(folded_text__contains="ragged").exists()
    assert list(mark.animal.marks.borne()) == [mark]
    assert list(mark.animal.marks.telling_apart()) == []


# ------------------------------------------------------------------------------------ photographs


def test_a_photograph_says_what_it_shows_and_when() -> None:
    mark = make_mark(make_animal(born_on=days_ago(500)))
    with pytest.raises(Unsound) as refused:
        make_photograph(mark, said="  ")
    assert "said" in refused.value.fields
    for day in (days_ago(501), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            make_photograph(mark, taken_on=day)
        assert "taken_on" in refused.value.fields
    photograph = make_photograph(mark)
    assert photograph.taken_by == photograph.recorded_by.name
    assert photograph.sha256 in Entry.objects.get(verb="mark.photograph").text


@pytest.mark.postgres
def test_one_photograph_stands_once_on_a_mark_until_it_is_withdrawn() -> None:
    mark, picture, curator = make_mark(), make_picture(), make_person(Role.CURATOR)
    first = make_photograph(mark, picture=picture)
    with pytest.raises(Conflict, match="already"):
        make_photograph(mark, picture=picture)
    with pytest.raises(Unsound):
        actions.withdraw_photograph(first, reason="", by=curator)
    with pytest.raises(NotPermitted):
        actions.withdraw_photograph(first, reason="It is Skerry.", by=make_person(Role.KEEPER))
    withdrawn = actions.withdraw_photograph(first, reason="It is Skerry.", by=curator)
    assert withdrawn.state == "withdrawn"
    assert make_photograph(mark, picture=picture).state == "kept"


def test_a_mark_that_is_no_more_is_not_photographed() -> None:
    mark = make_mark()
    actions.end_mark(mark, ended_on=days_ago(0), reason="Healed.", by=make_person(Role.VET))
    with pytest.raises(Conflict):
        make_photograph(mark)
    assert not Photograph.objects.exists()


# ---------------------------------------------------------------------------------------- readers


def test_a_second_reader_is_another_reads_once_and_names_one_of_the_taxon() -> None:
    animal = make_animal()
    mark = make_mark(animal)
    with pytest.raises(Conflict, match="recorded this mark yourself"):
        make_reading(mark, animal, by=mark.recorded_by)
    with pytest.raises(Unsound) as refused:
        make_reading(mark, make_animal(taxon=make_taxon("Pygoscelis papua")))
    assert "answer" in refused.value.fields
    student = make_person(Role.STUDENT)
    assert make_reading(mark, animal, by=student).is_agreed
    with pytest.raises(Conflict, match="already"):
        make_reading(mark, animal, by=student)


def test_agreement_is_with_the_register_and_not_telling_counts_against_it() -> None:
    animal, other = make_animal(), make_animal()
    mark = make_mark(animal)
    for answer in (animal, other, None):
        make_reading(mark, answer)
    assert Reading.objects.counted() == (1, 3)


@pytest.mark.postgres
def test_what_waits_is_a_natural_mark_with_a_photograph_that_nobody_else_read() -> None:
    waiting, bare, read = make_mark(), make_mark(), make_mark()
    tag = make_mark(sort="tag", said="green 01")
    for mark in (waiting, read, tag):
        make_photograph(mark)
    make_reading(read, None)
    assert list(Mark.objects.awaiting_second_reader()) == [waiting]
    assert bare.state == "borne"
    actions.withdraw_photograph(
        waiting.photographs.get(), reason="Blurred.", by=make_person(Role.CURATOR)
    )
    assert not Mark.objects.awaiting_second_reader().exists()


def test_a_list_of_words_is_kept_to() -> None:
    with pytest.raises(ValidationError):
        Mark(animal=make_animal(), sort="chip", said=CHIP, side="under", state="borne").full_clean()
