"""Moves: one conditional UPDATE, so that of two at once one is refused."""

import threading
from collections.abc import Callable

import pytest
from django.db import connection, transaction

from registry.errors import Conflict, Refusal
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.permissions import Role
from registry.questions import actions
from registry.questions.models import Question
from registry.transitions import locked, locked_all, move
from tests.worlds.people import make_person
from tests.worlds.questions import make_question


@pytest.mark.django_db
def test_a_move_gives_the_states_before_and_after_and_writes_the_new_one() -> None:
    question = make_question()
    assert move(question, "park") == ("posted", "parked")
    assert question.state == "parked"
    assert Question.objects.get(pk=question.pk).state == "parked"


@pytest.mark.django_db
def test_a_move_that_the_table_does_not_know_writes_nothing() -> None:
    question = make_question()
    with pytest.raises(Conflict, match="only when it is parked"):
        move(question, "reopen")
    assert Question.objects.get(pk=question.pk).state == "posted"


@pytest.mark.django_db
def test_whoever_read_the_row_before_someone_else_moved_it_is_refused() -> None:
    question = make_question()
    stale = Question.objects.get(pk=question.pk)
    move(question, "park")
    with pytest.raises(Conflict, match="Someone was first: it is parked now"):
        move(stale, "decline")
    assert Question.objects.get(pk=question.pk).state == "parked"


@pytest.mark.django_db
def test_rows_are_locked_in_the_order_of_their_ids() -> None:
    first, second = make_question(), make_question()
    with transaction.atomic():
        assert locked_all(Question, [second.pk, first.pk]) == [first, second]
        assert locked(second) == second


def at_once(*deeds: Callable[[], object]) -> list[Refusal | None]:
    """Do the deeds at the same moment, each on a connection of its own."""
    together = threading.Barrier(len(deeds))
    ended: list[Refusal | None] = [None] * len(deeds)
    broken: list[BaseException] = []

    def run(place: int, deed: Callable[[], object]) -> None:
        try:
            together.wait(10)
            deed()
        except Refusal as refusal:
            ended[place] = refusal
        except BaseException as problem:  # noqa: BLE001  # told below, in the test's own thread
            broken.append(problem)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(deeds)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not broken, broken
    return ended


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_moves_at_once_one_is_done_and_the_other_is_refused_as_a_conflict() -> None:
    question = make_question()
    curators = [make_person(Role.CURATOR), make_person(Role.CURATOR)]
    ended = at_once(
        lambda: actions.park_question(question, reason="no tank", by=curators[0]),
        lambda: actions.decline_question(question, reason="known", by=curators[1]),
    )
    assert sorted(type(refusal) for refusal in ended if refusal) == [Conflict]
    question.refresh_from_db()
    done = Entry.objects.about(question).order_by("-number").first()
    assert done is not None
    assert done.after == question.state
    assert Entry.objects.about(question).count() == 2


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_many_deeds_at_once_make_one_chain_without_a_gap() -> None:
    questions = [make_question() for _ in range(6)]
    curator = make_person(Role.CURATOR)
    ended = at_once(
        *(
            lambda question=question: actions.park_question(question, reason="later", by=curator)
            for question in questions
        )
    )
    assert ended == [None] * 6
    numbers = list(Entry.objects.order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
    assert proof.check(with_subjects=True)[0] == []
