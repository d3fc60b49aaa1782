"""Writing to the index and finding in it, on both databases."""

from typing import Any

import pytest
from django.core.management import call_command

from registry.people.models import Person
from registry.permissions import Role
from registry.questions.models import Question
from registry.search import index
from registry.search.models import SearchDocument
from tests.worlds.animals import make_animal
from tests.worlds.approvals import make_asked
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
    with django_assert_num_queries(1):
        index.find("egg", keeper)
    for _ in range(30):
        make_question()
    with django_assert_num_queries(1):
        assert len(index.find("egg", keeper)) == 31
