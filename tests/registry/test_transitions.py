"""Moves: one conditional UPDATE, so that of two at once one is refused."""

import pytest
from django.db import transaction

from registry.errors import Conflict
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.oversight import actions as oversight
from registry.permissions import Role
from registry.questions import actions
from registry.questions.models import Question
from registry.transitions import locked, locked_all, move
from tests.worlds.people import make_person
from tests.worlds.questions import make_question
from tests.worlds.site import make_concern
from tests.worlds.together import at_once


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
def test_a_step_that_comes_late_is_told_who_took_the_last_one_and_when() -> None:
    question, curator = make_question(), make_person(Role.CURATOR, name="Isolde Marrack")
    stale = Question.objects.get(pk=question.pk)
    actions.park_question(question, reason="no tank", by=curator)
    said = r"“park a question”, was taken by Isolde Marrack on \d+ \w+ \d{4} at \d\d:\d\d\."
    with pytest.raises(Conflict, match=said):
        actions.park_question(question, reason="no tank", by=curator)
    with pytest.raises(Conflict, match=f"it is parked now. The last step, {said}"):
        move(stale, "decline")


@pytest.mark.django_db
def test_a_late_step_is_told_nothing_of_whoever_handled_a_concern() -> None:
    concern, vet = make_concern(), make_person(Role.VET, name="Fergus Dunmore")
    oversight.take_up_concern(concern, by=vet)
    with pytest.raises(Conflict) as refused:
        oversight.take_up_concern(concern, by=make_person(Role.VET))
    assert "It is reviewing now" in refused.value.why
    assert "Fergus" not in str(refused.value)


@pytest.mark.django_db
def test_rows_are_locked_in_the_order_of_their_ids() -> None:
    first, second = make_question(), make_question()
    with transaction.atomic():
        assert locked_all(Question, [second.pk, first.pk]) == [first, second]
        assert locked(second) == second


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_moves_at_once_one_is_done_and_the_other_is_refused_as_a_conflict() -> None:
    question = make_question()
    curators = [make_person(Role.CURATOR), make_person(Role.CURATOR)]
    ended = at_once(
        lambda: actions.park_question(question, reason="no tank", by=curators[0]),
        lambda: actions.decline_question(question, reason="known", by=curators[1]),
    )
    assert [type(refusal) for refusal in ended] == [Conflict]
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
    assert ended == []
    numbers = list(Entry.objects.order_by("number").values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1))
    assert proof.check(with_subjects=True)[0] == []
