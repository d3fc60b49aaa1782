"""Writing to the index and finding in it, on both databases."""

from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from registry.animals.actions import mark_animal
from registry.animals.models import Animal, Mark
from registry.people.models import Person
from registry.permissions import Role
from registry.questions.models import Question
from registry.search import index
from registry.search.models import SearchDocument, SearchWord
from tests.worlds.animals import make_animal, make_enclosure, make_group, make_taxon
from tests.worlds.approvals import make_asked
from tests.worlds.archive import descriptor, make_dictionary, make_version
from tests.worlds.oversight import make_enrolled, make_handling
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, make_study
from tests.worlds.questions import make_question

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]


def titles(words: str, person: Person, **more: Any) -> list[str]:
    return [found.title for found in index.find(words, person, **more)]


def test_every_deed_that_makes_something_writes_it_into_the_index() -> None:
    keeper = make_person(Role.KEEPER)
    question = make_question(title="Do the gentoos take pebbles from each other?")
    animal = make_animal(name="Morwen")
    study = make_study(title="Pebble supply")
    assert titles("pebbles gentoos", keeper) == [question.title]
    assert titles("morwen", keeper) == [str(animal)]
    assert set(titles("pebble", keeper)) == {question.title, study.title}


def test_accents_beginnings_plurals_and_numbers_are_found() -> None:
    keeper = make_person(Role.KEEPER)
    question = make_question(title="Brandt-Håkansson's seahorse pairs, do they greet?")
    for words in ("hakansson", "HÅKANSSON", "seah", "seahorses", f"question {question.pk}"):
        assert titles(words, keeper) == [question.title], words
    assert titles("seahorse octopus", keeper) == []


def test_a_word_in_the_title_comes_before_one_in_the_text() -> None:
    keeper = make_person(Role.KEEPER)
    first = make_question(title="Would more blowers help?")
    second = make_question(title="Flow and hatching")
    assert titles("flow", keeper) == [second.title]
    assert titles("blowers", keeper)[0] == first.title


@pytest.mark.parametrize(
    "words",
    ['"', "''", "NEAR(", "a NEAR b", "title:x", "*", "-", "(((", "x" * 20_000, "\x00", "& | !",
     "a:*b", "AND OR NOT", "^cuttle", "{a b}: c", "\uff11\uff12", "1e5abc", "🐙",
     "'; DROP TABLE search_words; --"],
)  # fmt: skip
def test_hostile_words_find_nothing_or_something_and_never_fail(words: str) -> None:
    make_question()
    keeper = make_person(Role.KEEPER)
    index.find(words, keeper)
    index.near(words, keeper)
    assert titles("egg strings", keeper)


def test_what_one_may_not_see_is_not_found() -> None:
    approval, _, member = make_asked()
    lead = lead_of(approval.projects.get())
    stranger = make_person(Role.STUDENT)
    kinds = ["approvals.approval"]
    assert titles("twelve rays", stranger, kinds=kinds) == []
    for person in (lead, Person.objects.get(pk=member.pk), make_person(Role.AUDITOR)):
        assert titles("twelve rays", person, kinds=kinds) == [approval.title]


def test_changed_words_take_the_place_of_those_before() -> None:
    keeper = make_person(Role.KEEPER)
    question = make_question(title="Old wording of lanterns")
    Question.objects.filter(pk=question.pk).update(title="New wording of whistles")
    index.write(Question.objects.get(pk=question.pk))
    assert titles("lanterns", keeper) == []
    assert titles("whistles", keeper) == ["New wording of whistles"]
    assert SearchDocument.objects.filter(kind="questions.question").count() == 1


def test_the_index_is_written_anew_from_the_tables(capsys: pytest.CaptureFixture[str]) -> None:
    keeper = make_person(Role.KEEPER)
    question = make_question(title="Do lumpfish change colour?")
    SearchDocument.objects.all().delete()
    assert titles("lumpfish", keeper) == []
    call_command("rebuild_search")
    assert titles("lumpfish", keeper) == [question.title]
    assert "can be looked for" in capsys.readouterr().out
    assert titles("clock", make_person(Role.CURATOR)) == []


def test_close_to_a_question_is_what_shares_its_telling_words() -> None:
    keeper = make_person(Role.KEEPER)
    asked = make_question(title="Do the gentoos take pebbles from each other when few are left?")
    other = make_question(title="How many pebbles should gentoos have?")
    make_question(title="What do they do when few visitors are there?")
    close = index.near(asked.title, keeper, but=asked)
    assert [found.title for found in close] == [other.title]


def test_finding_costs_the_same_queries_at_three_and_at_thirty(
    django_assert_num_queries: Any,
) -> None:
    keeper = make_person(Role.KEEPER)
    assert keeper.roles
    make_question()
    with django_assert_num_queries(2):
        index.find("egg", keeper)
    for _ in range(30):
        make_question()
    with django_assert_num_queries(2):
        assert len(index.find("egg", keeper)) == 31


# ------------------------------------------------------------------------- identifiers and phrases


def test_an_identifier_finds_its_own_first_however_it_is_spaced() -> None:
    curator = make_person(Role.CURATOR)
    make_animal(code="RAY-003", name="Other")
    animal = make_animal(code="RAY-03", name="Morwen")
    mark_animal(animal, sort=Mark.Sort.OTHER_CODE, said="AB 12-345", by=curator)
    place = make_enclosure("T-31", name="Nursery")
    for words in ("RAY-03", "ray 03", "ray03", "AB12345", "ab 12 345"):
        assert titles(words, curator)[0] == "Morwen", words
    assert titles("t31", curator)[0] == place.name


def test_a_question_is_found_by_its_number_and_no_longer_one_is() -> None:
    keeper = make_person(Role.KEEPER)
    pks = [make_question(title=f"Lamp {chr(97 + n)}").pk for n in range(12)]
    assert [found.object_id for found in index.find(f"question {pks[0]}", keeper)] == [pks[0]]


def test_words_in_quotes_are_found_side_by_side_alone() -> None:
    keeper = make_person(Role.KEEPER)
    beside = make_question(title="Do glass shrimp hide by day?")
    make_question(title="Do shrimp see the glass?")
    assert titles('"glass shrimp"', keeper) == [beside.title]
    assert len(titles("glass shrimp", keeper)) == 2


def test_an_enrolment_code_is_found_by_those_alone_who_may_see_the_enrolment() -> None:
    world = make_handling()
    (enrolment,) = make_enrolled(world, 1)
    of_enrolments = {"kinds": ["oversight.enrolment"]}
    for person in (world.student, world.curator):
        assert titles(enrolment.code, person, **of_enrolments) == [enrolment.code]
    stranger = make_person(Role.STUDENT)
    assert titles(enrolment.code, stranger, **of_enrolments) == []
    sorts = {found.sort for found in index.find_sorted(enrolment.code, stranger, 5)}
    assert "oversight.enrolment" not in sorts


def test_a_version_and_its_dataset_are_found_by_their_identifier() -> None:
    version = make_version()
    steward = make_person(Role.STEWARD)
    address = f"http://localhost:8000/archive/{version.identifier}"
    assert titles(version.identifier, steward)[0] == str(version)
    assert titles(address, steward)[0] == str(version)
    assert titles(version.dataset.identifier, steward)[0] == version.dataset.title


def test_taxa_enclosures_and_groups_are_found() -> None:
    keeper = make_person(Role.KEEPER)
    taxon = make_taxon("Hippocampus hippocampus", "short-snouted seahorse", "bony_fish")
    group = make_group(name="Lobby shoal", code="SHO-7", enclosure=make_enclosure(name="Kelp hall"))
    assert titles("hippocampus", keeper) == [taxon.common_name]
    assert titles("kelp", keeper) == ["Kelp hall"]
    assert titles("sho 7", keeper) == [group.name]


# --------------------------------------------------------------------- the fields of dictionaries

FIELDS = ["archive.dictionary.field"]


@pytest.mark.parametrize("words", ["depth", "SWIM", "spiracle", "disc moving", "enrolment code"])
def test_a_field_is_found_by_its_name_its_meaning_and_its_codes(words: str) -> None:
    from_study = make_study_with_dictionary()
    found = index.find(words, make_person(Role.KEEPER), kinds=FIELDS)
    assert len(found) == 1
    assert found[0].url == f"{from_study.get_absolute_url()}#{found[0].part}"
    assert found[0].part.startswith("field-")
    assert (found[0].what, found[0].many) == ("field", "fields of dictionaries")


def make_study_with_dictionary() -> Any:
    return make_dictionary(make_study())


def test_a_field_is_found_once_in_the_newest_dictionary_that_has_it() -> None:
    keeper, study = make_person(Role.KEEPER), make_study()
    first = make_dictionary(study)
    newer = descriptor()
    fields = newer["resources"][0]["schema"]["fields"]
    ids = {
        one["name"]: one["x:fieldId"]
        for one in first.descriptor["resources"][0]["schema"]["fields"]
    }
    for field in fields:
        field["x:fieldId"] = ids[field["name"]]
    newer["resources"][0]["schema"]["fields"] = [one for one in fields if one["name"] != "depth"]
    second = make_dictionary(study, **newer)
    (posture,) = index.find("posture", keeper, kinds=FIELDS)
    (depth,) = index.find("depth", keeper, kinds=FIELDS)
    assert (posture.object_id, depth.object_id) == (second.pk, first.pk)
    call_command("rebuild_search")
    assert [one.object_id for one in index.find("posture", keeper, kinds=FIELDS)] == [second.pk]
    assert [one.object_id for one in index.find("depth", keeper, kinds=FIELDS)] == [first.pk]


# ---------------------------------------------------------------------------- sorted and counted


def test_counts_are_of_what_one_may_see_and_the_closest_sort_comes_first() -> None:
    approval, _, member = make_asked()
    for n in range(4):
        make_question(title=f"Twelve rays or thirteen, {n}?")
    member = Person.objects.get(pk=member.pk)
    by_sort = {found.sort: found for found in index.find_sorted("twelve rays", member, 2)}
    assert by_sort["questions.question"].number == 4
    assert len(by_sort["questions.question"].documents) == 2
    assert by_sort["approvals.approval"].documents[0].object_id == approval.pk
    stranger = index.find_sorted("twelve rays", make_person(Role.STUDENT), 2)
    assert [(found.sort, found.number) for found in stranger] == [("questions.question", 4)]
    assert index.find_sorted("", member, 2) == []


def test_a_common_word_is_found_in_titles_first_and_then_the_newest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    keeper = make_person(Role.KEEPER)
    make_question(title="Would more blowers help?")
    titled = make_question(title="An egg and its hatching")
    newest = make_question(title="Would fewer blowers do?")
    closest = titles("egg", keeper)
    monkeypatch.setattr(index, "_COMMON", 2)
    assert index._is_common("egg" if connection.vendor != "sqlite" else '"egg"')
    assert closest[0] == titled.title
    assert titles("egg", keeper)[:2] == [titled.title, newest.title]
    [found] = index.find_sorted("egg", keeper, 2)
    assert (found.number, [one.title for one in found.documents]) == (
        3,
        [titled.title, newest.title],
    )


def test_ten_thousand_animals_are_looked_through_in_three_queries(
    django_assert_num_queries: Any,
) -> None:
    keeper = make_person(Role.KEEPER)
    assert keeper.roles
    make_question(title="Which ray is the oldest?")
    documents = SearchDocument.objects.bulk_create(
        SearchDocument(
            kind=Animal._meta.label_lower,
            object_id=n,
            title=f"Ray {n}",
            url=f"/animals/{n}/",
            folded_title=f"ray {n}",
            folded_text=f"animal {n} ray {n:05} undulate ray raja undulata sea caught ray{n:05}",
            keys=f" animal{n} ray{n:05} ",
        )
        for n in range(1, 10_001)
    )
    if connection.vendor == "sqlite":
        index._write_fts(documents)
    for words in ("ray", "undulate ray", "ray-00777", "rays cau", "raj"):
        with django_assert_num_queries(3):
            assert index.find_sorted(words, keeper, 8), words
    assert index.find("ray-00777", keeper)[0].object_id == 777


# -------------------------------------------------------------------------------- what was meant


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("gentto", "gentoo"),
        ("gneto", ""),
        ("lumpfsh", "lumpfish"),
        ("lumpfihs", "lumpfish"),
        ("lumpffish", "lumpfish"),
        ("gentto pebbels", "gentoo pebbles"),
        ("zzzzzz", ""),
        ("gen", ""),
    ],
)
def test_one_letter_wrong_is_told_in_what_was_meant(typed: str, meant: str) -> None:
    make_question(title="Does one gentoo hold more pebbles?")
    make_question(title="Do lumpfish hide?")
    assert index.close_to(typed, make_person(Role.KEEPER)) == ([meant] if meant else [])


def test_a_word_of_what_one_may_not_see_is_never_told() -> None:
    make_asked()
    assert SearchWord.objects.filter(pk="twelve").exists()
    assert index.close_to("twelvx", make_person(Role.AUDITOR)) == ["twelve"]
    assert index.close_to("twelvx", make_person(Role.STUDENT)) == []


def test_looking_for_what_was_meant_costs_few_queries(
    django_assert_max_num_queries: Any,
) -> None:
    keeper = make_person(Role.KEEPER)
    assert keeper.roles
    for n in range(26):
        make_question(title=f"lamp{chr(97 + n)} or {chr(97 + n)}lamp?")
    with django_assert_max_num_queries(9):
        index.close_to(" ".join(["lampx lamqq"] * 20), keeper)


# ------------------------------------------------------------------------------- the same taxon


def test_what_is_about_the_same_taxon_needs_one_word_only() -> None:
    keeper, taxon = make_person(Role.KEEPER), make_taxon()
    study = make_study(taxon=taxon)
    make_dictionary(study)
    words = "Would deeper water change the depth at which they rest on busy weekends?"
    assert index.near(words, keeper, kinds=FIELDS) == []
    assert index.near(words, keeper, kinds=FIELDS, taxon=taxon.pk)[0].title == "Depth"
    assert index.about(taxon.pk, keeper, kinds=["projects.study"])[0].object_id == study.pk
