"""Animals that pass between records: drawn, joined, split, merged, counted anew."""

import pytest

from registry.animals import actions
from registry.animals.models import Animal, Event, Group
from registry.errors import Conflict, Unsound
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import (
    days_ago,
    make_animal,
    make_enclosure,
    make_group,
    make_restriction,
    make_taxon,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
TODAY, EARLY = days_ago(0), days_ago(401)


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


def held(group: Group) -> str:
    group.refresh_from_db()
    return f"{group.males}.{group.females}.{group.unknown}"


def test_a_drawn_animal_leaves_the_column_under_which_it_was_counted(curator: Person) -> None:
    group = make_group()
    animal = actions.draw_animal(
        group, code="D1", sex="female", counted_as="unknown", happened_on=days_ago(5), by=curator
    )
    assert (held(group), animal.sex, animal.enclosure) == ("2.3.3", "female", group.enclosure)
    assert (animal.drawn_from, animal.taxon) == (group, group.taxon)
    sorts = list(animal.events.values_list("sort", "males", "females", "unknown"))
    assert sorts == [("drawn", 0, 0, 1), ("sexed", 0, 1, -1)]
    with pytest.raises(Unsound, match="in the register already"):
        actions.draw_animal(group, code="d1", happened_on=TODAY, by=curator)
    for day in (EARLY, days_ago(-1)):
        with pytest.raises(Unsound):
            actions.draw_animal(group, code="D2", happened_on=day, by=curator)
    males = make_group(males=2, females=0, unknown=0)
    with pytest.raises(Unsound, match="There cannot be -1 of unknown sex"):
        actions.draw_animal(males, code="D3", happened_on=TODAY, by=curator)
    assert not Animal.objects.filter(code="D3").exists()
    with pytest.raises(Conflict, match="came of the newest event"):
        actions.take_back_group_event(group, reason="no", by=curator)


def test_an_animal_that_joins_is_counted_and_can_be_taken_back_on_its_own_page(
    curator: Person,
) -> None:
    group, animal = make_group(), make_animal(sex="male")
    joined = actions.join_group(animal, group=group, happened_on=days_ago(3), by=curator)
    assert (joined.state, joined.enclosure, joined.left_on) == ("left", None, days_ago(3))
    assert held(group) == "3.3.4"
    with pytest.raises(Conflict, match="one side of what happened"):
        actions.take_back_group_event(group, reason="no", by=curator)
    back = actions.take_back_animal_event(joined, reason="it can be told apart", by=curator)
    assert (back.state, back.left_on, back.enclosure_id) == ("kept", None, animal.enclosure_id)
    assert held(group) == "2.3.4"


def test_an_animal_joins_no_group_of_another_taxon_or_of_another_time(curator: Person) -> None:
    animal, group = make_animal(), make_group()
    other = make_group(taxon=make_taxon("Sepia officinalis", "cuttlefish", "cephalopod"))
    with pytest.raises(Unsound, match="is of the taxon"):
        actions.join_group(animal, group=other, happened_on=TODAY, by=curator)
    for day in (EARLY, days_ago(-1)):
        with pytest.raises(Unsound):
            actions.join_group(animal, group=group, happened_on=day, by=curator)
    late = make_group(arrived_on=days_ago(10))
    with pytest.raises(Unsound, match="arrived"):
        actions.join_group(animal, group=late, happened_on=days_ago(11), by=curator)
    actions.move_animal(animal, enclosure=make_enclosure(), happened_on=days_ago(2), by=curator)
    with pytest.raises(Unsound, match="something later was recorded"):
        actions.join_group(animal, group=group, happened_on=days_ago(3), by=curator)
    gone = actions.leave_group(make_group(), sort="died", happened_on=TODAY, by=curator)
    with pytest.raises(Unsound, match="has left"):
        actions.join_group(animal, group=gone, happened_on=TODAY, by=curator)


def test_a_split_and_a_merge_lose_nobody(curator: Person) -> None:
    group, tank = make_group(), make_enclosure()
    new = actions.split_group(
        group, code="S1", name="Half", males=1, unknown=2, enclosure=tank, happened_on=days_ago(9),
        by=curator,
    )  # fmt: skip
    assert (held(group), held(new), new.enclosure) == ("1.3.2", "1.0.2", tank)
    for wrong in ({"code": "s1", "unknown": 1}, {"code": "S2"}, {"code": "S3", "males": 2}):
        with pytest.raises(Unsound):
            actions.split_group(
                group, name="n", enclosure=tank, happened_on=TODAY, by=curator, **wrong
            )
    assert held(group) == "1.3.2"
    with pytest.raises(Unsound, match="into itself"):
        actions.merge_group(new, into=new, happened_on=TODAY, by=curator)
    into = actions.merge_group(new, into=group, happened_on=days_ago(1), by=curator)
    new.refresh_from_db()
    assert (held(into), new.state, held(new)) == ("2.3.4", "left", "0.0.0")
    back = actions.take_back_group_event(new, reason="kept apart", by=curator)
    assert (held(back), back.state, held(group)) == ("1.0.2", "kept", "1.3.2")


def test_a_recount_that_differs_is_a_correction_of_its_own_kind(curator: Person) -> None:
    group = make_group(males=0, females=0, unknown=40)
    actions.recount_group(group, unknown=37, is_estimated=True, happened_on=days_ago(4), by=curator)
    group.refresh_from_db()
    event = group.events.standing().last()
    assert event is not None
    assert (event.sort, event.unknown, event.number) == (Event.Sort.COUNTED, -3, 37)
    assert (group.unknown, group.is_estimated) == (37, True)
    actions.recount_group(group, males=3, unknown=34, happened_on=days_ago(3), by=curator)
    group.refresh_from_db()
    assert (held(group), group.is_estimated) == ("3.0.34", False)
    actions.count_group(group, unknown=-34, sort="died", happened_on=days_ago(2), by=curator)
    with pytest.raises(Unsound, match="There cannot be -4"):
        actions.recount_group(group, males=3, unknown=30, happened_on=days_ago(3), by=curator)
    with pytest.raises(Unsound, match="There cannot be -1"):
        actions.recount_group(group, unknown=-1, happened_on=TODAY, by=curator)
    for day in (EARLY, days_ago(-1)):
        with pytest.raises(Unsound):
            actions.recount_group(group, unknown=1, happened_on=day, by=curator)


def test_a_move_to_an_enclosure_that_did_not_exist_is_refused(curator: Person) -> None:
    tank = actions.open_enclosure(code="new", name="New tank", opened_on=days_ago(5), by=curator)
    animal, group = make_animal(), make_group()
    for move in (
        lambda day: actions.move_animal(animal, enclosure=tank, happened_on=day, by=curator),
        lambda day: actions.move_group(group, enclosure=tank, happened_on=day, by=curator),
    ):
        with pytest.raises(Unsound, match="was opened on") as refused:
            move(days_ago(6))
        assert "enclosure" in refused.value.fields
        assert move(days_ago(5)).enclosure == tank
    with pytest.raises(Unsound, match="was opened on"):
        make_animal(enclosure=tank, arrived_on=days_ago(6))


# --------------------------------------------------------------- what bars goes with the animals


def test_a_group_is_barred_by_an_unmarked_animal_that_was_drawn_from_it(curator: Person) -> None:
    group = make_group()
    drawn = [
        actions.draw_animal(group, code=f"U{n}", happened_on=days_ago(30), by=curator)
        for n in range(2)
    ]
    actions.mark_animal(drawn[1], sort="tag", said="red", by=curator)
    make_restriction(drawn[1], sort="moult")
    assert not group.restrictions.exists()  # a tag tells that one apart
    own = make_restriction(drawn[0], sort="treatment", strength="vets_word")
    heir = group.restrictions.get()
    assert (heir.sort, heir.strength, heir.inherited_from) == ("treatment", "vets_word", own)
    actions.end_restriction(own, ended_on=TODAY, reason="healed", by=make_person(Role.VET))
    heir.refresh_from_db()
    assert (heir.state, heir.ended_on) == ("ended", TODAY)
    actions.move_animal(drawn[0], enclosure=make_enclosure(), happened_on=TODAY, by=curator)
    make_restriction(drawn[0], sort="moult")
    assert group.restrictions.filter(state="begun").count() == 0  # it lives elsewhere now


def test_what_bars_an_animal_or_a_group_bars_the_group_that_it_goes_into(curator: Person) -> None:
    animal, group, other = make_animal(), make_group(), make_group()
    make_restriction(animal, sort="treatment", strength="vets_word", began_on=days_ago(9))
    actions.join_group(animal, group=group, happened_on=days_ago(3), by=curator)
    heir = group.restrictions.get()
    assert (heir.sort, heir.began_on) == ("treatment", days_ago(3))
    new = actions.split_group(
        group, code="P1", name="n", unknown=1, enclosure=make_enclosure(), happened_on=TODAY,
        by=curator,
    )  # fmt: skip
    drawn = actions.draw_animal(group, code="P2", happened_on=TODAY, by=curator)
    actions.merge_group(group, into=other, happened_on=TODAY, by=curator)
    for one in (new, drawn, other):
        assert one.restrictions.get().sort == "treatment"
