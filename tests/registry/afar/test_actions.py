"""Away and gone: each refusal with the success beside it, and what the ledger keeps of it."""

import hashlib
import json
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from registry.afar import actions
from registry.afar.models import Custody, News, first_and_last
from registry.animals.actions import (
    candle_embryo,
    count_group,
    hatch_embryo,
    leave_animal,
    leave_group,
    lose_embryo,
    move_animal,
    move_case,
    scan_animal,
    take_back_animal_event,
    take_back_case_event,
)
from registry.animals.happening import state_of
from registry.animals.models import Animal, Word
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.permissions import Role, can
from tests.worlds.afar import GONE_D, make_custody, make_dossier, make_gone, make_news
from tests.worlds.animals import (
    STAY_D,
    days_ago,
    make_animal,
    make_case,
    make_enclosure,
    make_group,
)
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


# ---------------------------------------------------------------------------------------- custody


@pytest.mark.postgres
def test_an_egg_case_goes_into_custody_and_its_record_goes_on(client: Client) -> None:
    curator, home = make_person(Role.CURATOR), make_enclosure()
    case = make_case(enclosure=home, embryos=2)
    with pytest.raises(Unsound, match="lies before"):
        make_custody(case, began_on=days_ago(61))
    custody = make_custody(case)
    case.refresh_from_db()
    assert (case.enclosure, case.state, custody.number) == (None, "held", 2)
    with pytest.raises(Conflict, match="has had it since"):
        make_custody(case)
    first, second = case.embryos.all()
    candle_embryo(first, is_fertile=True, happened_on=days_ago(5), by=curator)
    for refused in (
        lambda: move_case(case, enclosure=home, happened_on=days_ago(4), by=curator),
        lambda: hatch_embryo(first, code="Y", happened_on=days_ago(4), by=curator),
    ):
        with pytest.raises(Conflict, match="It is away"):
            refused()
    client.force_login(curator)
    assert custody.get_absolute_url() in client.get(case.get_absolute_url()).content.decode()
    assert case.code in client.get("/animals/away/").content.decode()
    end(custody, enclosure=home)
    with pytest.raises(Conflict, match="belongs to its custody"):
        take_back_case_event(case, reason="wrong", by=curator)
    case.refresh_from_db()
    assert case.enclosure == home
    for embryo in (first, second):
        lose_embryo(embryo, cause="unknown", happened_on=days_ago(1), by=curator)
    with pytest.raises(Conflict, match="nothing alive"):
        make_custody(case, began_on=days_ago(0))


def end(custody: Custody, **more: Any) -> Custody:
    """End a custody three days ago: it came back to a tank of its own."""
    given: dict[str, Any] = {
        "outcome": "returned",
        "ended_on": days_ago(3),
        "enclosure": make_enclosure(),
        "by": make_person(Role.KEEPER),
        **more,
    }
    return actions.end_custody(custody, **given)


@pytest.mark.postgres
def test_what_is_in_custody_is_away_has_not_left_and_is_given_once() -> None:
    animal = make_animal()
    custody = make_custody(animal)
    animal.refresh_from_db()
    assert (animal.state, animal.left_on, animal.enclosure) == ("kept", None, None)
    assert state_of(animal).enclosure is None
    assert state_of(animal, days_ago(11)).enclosure is not None
    assert state_of(animal).is_here
    assert Animal.objects.with_word(days_ago(0)).get(pk=animal.pk).word == Word.AWAY
    assert Custody.objects.on_day(days_ago(10)).get() == custody
    assert not Custody.objects.on_day(days_ago(11)).exists()
    with pytest.raises(Conflict, match="has had it since"):
        make_custody(animal)
    entry = Entry.objects.get(verb="animal.give_custody")
    assert f"afar.custody:{custody.pk}" in entry.text


def test_what_is_away_is_not_moved_here_and_its_going_is_taken_back_by_no_other_way() -> None:
    animal, curator, tank = make_animal(), make_person(Role.CURATOR), make_enclosure()
    custody = make_custody(animal)
    with pytest.raises(Conflict, match="It is away"):
        move_animal(animal, enclosure=tank, happened_on=days_ago(0), by=curator)
    with pytest.raises(Conflict, match="custody"):
        take_back_animal_event(animal, reason="wrong", by=curator)
    end(custody, enclosure=tank)
    animal.refresh_from_db()
    assert animal.enclosure == tank
    with pytest.raises(Conflict, match="custody"):
        take_back_animal_event(animal, reason="wrong", by=curator)
    other = make_enclosure()
    moved = move_animal(animal, enclosure=other, happened_on=days_ago(0), by=curator)
    assert moved.enclosure == other


def test_what_came_back_lives_in_an_enclosure_that_is_told() -> None:
    custody = make_custody()
    with pytest.raises(Unsound) as refused:
        end(custody, enclosure=None)
    assert "enclosure" in refused.value.fields
    assert end(custody).state == "ended"


def test_an_animal_that_is_not_fit_to_travel_goes_by_a_veterinary_surgeons_word_alone() -> None:
    animal = make_animal()
    scan_animal(animal, is_pregnant=True, happened_on=days_ago(20), by=make_person(Role.VET))
    with pytest.raises(Unsound) as refused:
        make_custody(animal)
    assert "vets_word" in refused.value.fields
    custody = make_custody(animal, vets_word="F. Dunmore: a short way, in oxygen.")
    assert "F. Dunmore" in custody.why


def test_a_group_goes_whole_and_never_empty() -> None:
    group = make_group(males=2, females=3, unknown=4)
    custody = make_custody(group)
    assert custody.number == 9
    end(custody, ended_on=days_ago(9))
    gone: dict[str, Any] = {"males": -2, "females": -3, "unknown": -4, "happened_on": days_ago(9)}
    emptied = count_group(group, **gone, sort="died", by=make_person(Role.KEEPER))
    with pytest.raises(Conflict):
        make_custody(emptied, began_on=days_ago(8))


def test_a_custody_begins_within_the_stay_and_ends_after_it_begins() -> None:
    animal = make_animal()
    for day in (days_ago(STAY_D + 1), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            make_custody(animal, began_on=day)
        assert "began_on" in refused.value.fields
    with pytest.raises(Unsound) as refused:
        make_custody(animal, expected_end_on=days_ago(11))
    assert "expected_end_on" in refused.value.fields
    custody = make_custody(animal)
    for day in (days_ago(11), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            end(custody, ended_on=day)
        assert "ended_on" in refused.value.fields
    assert end(custody).state == "ended"
    with pytest.raises(Unsound, match="came to where it is"):
        make_custody(animal, began_on=days_ago(4))
    assert make_custody(animal, began_on=days_ago(3)).state == "given"


def test_how_a_custody_ended_agrees_with_the_register() -> None:
    custody, curator = make_custody(), make_person(Role.CURATOR)
    with pytest.raises(Unsound, match="still kept") as refused:
        end(custody, outcome="died")
    assert "outcome" in refused.value.fields
    leave_animal(custody.subject, sort="died", happened_on=days_ago(1), by=curator)
    with pytest.raises(Unsound, match="has left"):
        end(custody, ended_on=days_ago(1))
    assert end(custody, outcome="died", ended_on=days_ago(1)).outcome == "died"
    with pytest.raises(Conflict):
        end(custody, outcome="died", ended_on=days_ago(1))


def test_one_that_has_left_is_given_to_nobody_and_only_a_curator_gives() -> None:
    with pytest.raises(Conflict):
        make_custody(make_gone())
    with pytest.raises(NotPermitted):
        make_custody(by=make_person(Role.KEEPER))
    custody = make_custody()
    assert "end" in can(custody, make_person(Role.KEEPER))
    assert can(custody, make_person(Role.STUDENT)) == []


# ---------------------------------------------------------------------------------------- dossier


def test_a_dossier_is_kept_as_it_was_written() -> None:
    animal = make_animal(name="Morwen")
    with pytest.raises(Unsound) as refused:
        make_dossier(animal, receiver="  ")
    assert "receiver" in refused.value.fields
    first = make_dossier(animal)
    leave_animal(animal, sort="departed", happened_on=days_ago(0), by=make_person(Role.CURATOR))
    second = make_dossier(animal)
    first.refresh_from_db()
    assert first.content["subject"]["left_on"] == ""
    assert second.content["subject"]["left_on"] == days_ago(0).isoformat()
    assert json.loads(second.text)["subject"]["name"] == "Morwen"
    for dossier in (first, second):
        assert hashlib.sha256(dossier.text.encode()).hexdigest() == dossier.sha256
    entry = Entry.objects.filter(verb="animal.write_dossier").order_by("-number")[0]
    assert second.sha256 in entry.text


def test_only_a_curator_or_a_veterinary_surgeon_writes_a_dossier() -> None:
    animal = make_animal()
    for role in (Role.CURATOR, Role.VET):
        assert "write_dossier" in can(animal, make_person(role))
    with pytest.raises(NotPermitted):
        actions.write_dossier(animal, receiver="x", by=make_person(Role.KEEPER))


# ------------------------------------------------------------------------------------------- news


def test_news_is_of_one_that_departed_and_not_of_one_that_lives_or_died_here() -> None:
    with pytest.raises(Conflict):
        make_news(make_animal())
    with pytest.raises(Conflict, match="It died here"):
        make_news(make_gone(sort="died"))
    assert make_news().state == "told"


def test_news_lies_between_the_departure_and_today_as_far_as_its_day_is_known() -> None:
    gone = make_gone()
    for day in (days_ago(GONE_D + 1), days_ago(-1)):
        with pytest.raises(Unsound) as refused:
            make_news(gone, happened_on=day)
        assert "happened_on" in refused.value.fields
    left = days_ago(GONE_D)
    # Only the year is known, and it left in that year: the news may well be of after it.
    news = make_news(gone, happened_on=left - timedelta(days=left.day % 2), precision="year")
    assert news.happened_on == date(left.year, 1, 1)
    with pytest.raises(Unsound):
        make_news(gone, happened_on=date(left.year - 1, 6, 1), precision="year")


@pytest.mark.postgres
def test_young_that_were_born_elsewhere_are_followed_for_generations() -> None:
    gone = make_gone()
    with pytest.raises(Unsound) as refused:
        make_news(gone, sort="bred")
    assert "number" in refused.value.fields
    young = make_news(gone, sort="bred", number=6, happened_on=days_ago(70))
    grand = make_news(gone, sort="bred", number=2, happened_on=days_ago(30), follows=young)
    great = make_news(gone, sort="seen", happened_on=days_ago(5), follows=grand)
    assert [young.generation, grand.generation, great.generation] == [0, 1, 2]
    with pytest.raises(Unsound, match="those young were born"):
        make_news(gone, happened_on=days_ago(71), follows=young)
    for wrong in (great, make_news(sort="bred", number=1)):
        with pytest.raises(Unsound) as refused:
            make_news(gone, happened_on=days_ago(1), follows=wrong)
        assert "follows" in refused.value.fields


def test_nothing_follows_a_death_but_its_young_live_on() -> None:
    gone = make_gone()
    young = make_news(gone, sort="bred", number=6, happened_on=days_ago(60))
    with pytest.raises(Unsound, match="was told of it"):
        make_news(gone, sort="died", happened_on=days_ago(61))
    death = make_news(gone, sort="died", happened_on=days_ago(50))
    for sort in ("died", "seen"):
        with pytest.raises(Conflict, match="It died elsewhere"):
            make_news(gone, sort=sort, happened_on=days_ago(40))
    assert make_news(gone, sort="seen", happened_on=days_ago(55)).state == "told"
    assert make_news(gone, sort="died", number=1, happened_on=days_ago(40), follows=young).pk
    curator = make_person(Role.CURATOR)
    actions.take_back_news(death, reason="It was another ray.", by=curator)
    assert make_news(gone, sort="seen", happened_on=days_ago(40)).state == "told"


def test_news_is_taken_back_with_a_reason_once_and_from_the_newest_on() -> None:
    gone, curator = make_gone(), make_person(Role.CURATOR)
    birth = make_news(gone, sort="bred", number=6)
    later = make_news(gone, happened_on=days_ago(20), follows=birth)
    with pytest.raises(Unsound):
        actions.take_back_news(later, reason=" ", by=curator)
    with pytest.raises(Conflict, match="Other news"):
        actions.take_back_news(birth, reason="wrong", by=curator)
    actions.take_back_news(later, reason="wrong", by=curator)
    back = actions.take_back_news(birth, reason="wrong", by=curator)
    assert back.state == "taken_back"
    with pytest.raises(Conflict):
        actions.take_back_news(back, reason="wrong", by=curator)
    with pytest.raises(Unsound):
        make_news(gone, happened_on=days_ago(20), follows=back)
    with pytest.raises(NotPermitted):
        actions.take_back_news(make_news(), reason="wrong", by=make_person(Role.KEEPER))


def test_news_can_be_heard_of_a_group_too() -> None:
    group = leave_group(
        make_group(), sort="departed", happened_on=days_ago(GONE_D), by=make_person(Role.CURATOR)
    )
    make_news(group, sort="died", number=2)
    assert make_news(group, happened_on=days_ago(1)).subject == group


def test_a_departure_that_is_taken_back_leaves_its_news_readable() -> None:
    gone = make_gone()
    make_news(gone)
    back = take_back_animal_event(gone, reason="It never went.", by=make_person(Role.CURATOR))
    assert back.state == "kept"
    assert News.objects.get(animal=gone).state == "told"
    assert "hear_news" not in can(back, make_person(Role.KEEPER))


def test_a_day_that_is_known_to_the_month_may_be_any_in_it() -> None:
    assert first_and_last(date(2028, 2, 14), "month") == (date(2028, 2, 1), date(2028, 2, 29))
    assert first_and_last(date(2027, 2, 14), "year") == (date(2027, 1, 1), date(2027, 12, 31))
    today = timezone.localdate()
    assert first_and_last(today, "day") == (today, today)
