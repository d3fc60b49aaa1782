"""The one table: lists, single checks and buttons agree."""

import pytest
from django.db.models import Q
from django.test import Client

from registry import permissions
from registry.errors import NotPermitted, Unseen
from registry.ledger.models import Entry
from registry.people.models import Body, Person
from registry.permissions import (
    FROM_NOTHING,
    STANDINGS,
    TABLE,
    Role,
    Verb,
    Visitor,
    allowed,
    both,
    can,
    except_for,
    is_look,
    may,
    oneself,
    own_body,
    own_chair,
    reach,
    require,
    said_scope,
    where,
    with_can,
)
from registry.questions.models import Question
from tests.worlds.people import make_body, make_person
from tests.worlds.questions import make_question, make_taken_on

pytestmark = pytest.mark.django_db


def test_every_verb_has_a_row_and_every_row_a_role_and_a_scope_in_words() -> None:
    assert {row.verb for row in TABLE} == set(Verb)
    for row in TABLE:
        assert row.roles, row
        assert (row.scope.__doc__ or "").strip(), row
        assert said_scope(row.verb)


def test_the_list_the_single_check_the_refusal_and_the_mark_agree() -> None:
    """For every role, every kind made here, and every verb of it."""
    _, chair, member = make_body()
    people = [make_person(role) for role in STANDINGS] + [chair, member, make_person()]
    make_question(asker=people[0])
    make_taken_on()
    seen = 0
    for person in [*people, Visitor()]:
        for model in (Person, Body, Question, Entry):
            marked = {row.pk: row for row in with_can(model._default_manager.all(), person)}
            for verb in [*permissions.verbs_of(model), permissions.SEE[model.kind]]:
                listed = set(
                    allowed(model._default_manager.all(), person, verb).values_list("pk", flat=True)
                )
                for row in model._default_manager.all():
                    is_allowed = row.pk in listed
                    assert may(person, verb, row) is is_allowed
                    if is_allowed:
                        require(person, verb, row)
                    else:
                        with pytest.raises((NotPermitted, Unseen)):
                            require(person, verb, row)
                    if not is_look(verb):
                        assert getattr(marked[row.pk], f"may_{verb.split('.')[1]}") is is_allowed
                    seen += is_allowed
    assert seen > 100


def test_a_marked_row_and_a_plain_one_give_the_same_buttons() -> None:
    question = make_question()
    for role in STANDINGS:
        person = make_person(role)
        marked = with_can(Question.objects.all(), person).get(pk=question.pk)
        assert can(marked, person) == can(question, person)


def test_what_may_not_be_seen_is_404_and_what_may_not_be_done_403(client: Client) -> None:
    keeper, student = make_person(Role.KEEPER), make_person(Role.STUDENT)
    with pytest.raises(Unseen):
        require(student, Verb.PERSON_INDUCT, keeper)
    with pytest.raises(NotPermitted) as refused:
        require(keeper, Verb.PERSON_INDUCT, student)
    assert "curator, veterinary surgeon" in refused.value.why
    client.force_login(student)
    assert client.get(f"/people/{keeper.pk}/").status_code == 404
    assert client.get(f"/people/{keeper.pk}/induct/").status_code == 404
    client.force_login(keeper)
    assert client.get(f"/people/{student.pk}/").status_code == 200
    assert client.get(f"/people/{student.pk}/induct/").status_code == 403


def test_both_needs_both_and_except_for_takes_away() -> None:
    body, chair, member = make_body()
    other, _, _ = make_body()
    chaired = both(own_body, own_chair)
    seated_not_chaired = both(own_body, except_for(own_chair))

    def bodies(scope: permissions.Scope, person: Person) -> set[int]:
        reached = scope(person, Body)
        if isinstance(reached, bool):
            return set(Body.objects.values_list("pk", flat=True)) if reached else set()
        return set(Body.objects.filter(reached).values_list("pk", flat=True))

    assert bodies(chaired, chair) == {body.pk}
    assert bodies(chaired, member) == set()
    assert bodies(seated_not_chaired, chair) == set()
    assert bodies(seated_not_chaired, member) == {body.pk}
    assert bodies(except_for(own_body), member) == {other.pk}


@pytest.mark.parametrize(
    ("first", "second", "together"),
    [
        (True, True, True),
        (True, False, False),
        (False, True, False),
        (True, Q(pk=1), Q(pk=1)),
        (False, Q(pk=1), False),
        (Q(pk=1), True, Q(pk=1)),
        (Q(pk=1), False, False),
        (Q(pk=1), Q(pk=2), Q(pk=1) & Q(pk=2)),
    ],
)
def test_both_of_everywhere_nowhere_and_some_rows(
    first: permissions.Reach, second: permissions.Reach, together: permissions.Reach
) -> None:
    scope = both(lambda person, model: first, lambda person, model: second)
    assert scope(Visitor(), Body) == together


def test_except_for_everywhere_is_nowhere_and_the_other_way_round() -> None:
    assert except_for(lambda person, model: True)(Visitor(), Body) is False
    assert except_for(lambda person, model: False)(Visitor(), Body) is True
    assert except_for(where(is_ethics=True))(Visitor(), Body) == ~Q(is_ethics=True)


def test_a_seat_that_ended_reaches_nothing() -> None:
    body, _, member = make_body()
    assert allowed(Body.objects.filter(pk=body.pk), member, Verb.BODY_SEE).exists()
    assert Body.objects.filter(own_body(member, Body)).exists()
    member.seats.update(ended_on="2020-01-01")
    assert not Body.objects.filter(own_body(member, Body)).exists()


def test_an_administrator_gives_standing_to_others_and_never_to_themselves() -> None:
    administrator, keeper = make_person(Role.ADMINISTRATOR), make_person(Role.KEEPER)
    assert may(administrator, Verb.PERSON_GIVE_STANDING, keeper)
    assert not may(administrator, Verb.PERSON_GIVE_STANDING, administrator)
    assert Person.objects.filter(oneself(keeper, Person)).get() == keeper


def test_a_visitor_may_only_what_everyone_may() -> None:
    open_to_all = {row.verb for row in TABLE if Role.PUBLIC in row.roles}
    for verb in Verb:
        assert may(Visitor(), verb) is (verb in open_to_all)
    assert reach(Question, Visitor(), Verb.QUESTION_SEE) is False


def test_a_list_costs_one_query_and_no_row_comes_twice(
    django_assert_num_queries: object,
) -> None:
    keeper = make_person(Role.KEEPER)
    make_question(asker=keeper)
    make_question()
    assert keeper.roles
    with django_assert_num_queries(1):  # type: ignore[operator]
        rows = list(with_can(allowed(Question.objects.all(), keeper, Verb.QUESTION_SEE), keeper))
    assert len(rows) == len({row.pk for row in rows}) == 2


def test_deeds_that_make_something_from_nothing_are_not_asked_of_what_is_there() -> None:
    assert "add" not in can(make_person(), make_person(Role.ADMINISTRATOR))
    for verb in FROM_NOTHING:
        assert not is_look(verb)
