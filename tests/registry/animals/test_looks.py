"""What was seen of an animal: sex, stage, measures, scans, births; and fitness to travel."""

from datetime import date, timedelta
from typing import Any

import pytest

from registry.animals import actions
from registry.animals.gestation import is_soon_after, unfit_from
from registry.animals.models import Animal, Group, Restriction, Taxon
from registry.errors import NotPermitted, Unsound
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_group, make_restriction, make_taxon
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db
TODAY, EARLY = days_ago(0), days_ago(401)


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


@pytest.fixture
def shark(curator: Person) -> Taxon:
    """A live-bearing kind with a gestation of 350 days; invented."""
    return actions.add_taxon(
        scientific_name="Selachus fictus",
        common_name="invented shark",
        taxon_class="cartilaginous_fish",
        breeding="bears",
        period_least_d=350,
        period_most_d=365,
        period_source="invented for this test",
        by=curator,
    )


def test_a_sex_that_was_found_moves_the_animal_between_columns(curator: Person) -> None:
    animal = make_animal(sex="unknown")
    animal = actions.sex_animal(animal, sex="female", happened_on=days_ago(9), by=curator)
    event = animal.events.standing().last()
    assert event is not None
    assert (animal.sex, event.changes) == ("female", (0, 1, -1))
    with pytest.raises(Unsound, match="by the record already"):
        actions.sex_animal(animal, sex="female", happened_on=TODAY, by=curator)
    for day in (EARLY, days_ago(-1), days_ago(10)):
        with pytest.raises(Unsound):
            actions.sex_animal(animal, sex="male", happened_on=day, by=curator)
    back = actions.take_back_animal_event(animal, reason="not so", by=curator)
    assert back.sex == "unknown"


def test_a_stage_is_reached_in_order_and_taken_back(curator: Person) -> None:
    animal, group = make_animal(life_stage="juvenile"), make_group(life_stage="larva")
    subjects: list[Any] = [animal, group]
    for subject in subjects:
        grown = actions.record_stage(
            subject, life_stage="adult", happened_on=days_ago(5), by=curator
        )
        assert grown.life_stage == "adult"
        for day in (EARLY, days_ago(-1), days_ago(6)):
            with pytest.raises(Unsound):
                actions.record_stage(subject, life_stage="subadult", happened_on=day, by=curator)
    assert actions.take_back_animal_event(animal, reason="no", by=curator).life_stage == "juvenile"
    assert actions.take_back_group_event(group, reason="no", by=curator).life_stage == "larva"


def test_a_measure_has_a_value_above_nought(curator: Person) -> None:
    animal = make_animal()
    for value, day in ((0, TODAY), (-1, TODAY), (5, EARLY), (5, days_ago(-1))):
        with pytest.raises(Unsound):
            actions.measure_animal(
                animal, measure="mass_g", value=value, happened_on=day, by=curator
            )
    actions.measure_animal(animal, measure="width_mm", value=612, happened_on=TODAY, by=curator)
    event = animal.events.last()
    assert event is not None
    assert event.said == "disc width or breadth (mm): 612"


def test_a_scan_that_finds_a_pregnancy_keeps_studies_off_but_for_watching(
    curator: Person, shark: Taxon
) -> None:
    animal = make_animal(taxon=shark)
    actions.scan_animal(animal, is_pregnant=False, happened_on=days_ago(90), by=curator)
    assert not animal.restrictions.exists()
    actions.scan_animal(
        animal, is_pregnant=True, number=9, since_on=days_ago(100), happened_on=days_ago(60),
        by=curator,
    )  # fmt: skip
    gravid = animal.restrictions.get()
    assert (gravid.sort, gravid.strength) == ("gravid", "observation_only")
    assert gravid.expected_end_on == days_ago(100) + timedelta(days=365)
    actions.scan_animal(animal, is_pregnant=True, happened_on=days_ago(30), by=curator)
    assert animal.restrictions.count() == 1  # it stands already
    wrong = [
        {"is_pregnant": True, "since_on": TODAY, "happened_on": days_ago(1)},
        {"is_pregnant": False, "number": 2, "happened_on": TODAY},
        {"is_pregnant": True, "happened_on": days_ago(31)},
        {"is_pregnant": True, "happened_on": days_ago(-1)},
    ]
    for facts in wrong:
        with pytest.raises(Unsound):
            actions.scan_animal(animal, **facts, by=curator)


def test_a_birth_ends_gravid_and_begins_rearing_and_names_the_dam(
    curator: Person, shark: Taxon
) -> None:
    dam = make_animal(taxon=shark)
    actions.scan_animal(dam, is_pregnant=True, happened_on=days_ago(60), by=curator)
    for wrong in (
        {"code": "L1", "happened_on": TODAY},
        {"code": dam.code, "unknown": 1, "happened_on": TODAY},
        {"code": "L1", "unknown": 1, "happened_on": days_ago(61)},
        {"code": "L1", "unknown": 1, "happened_on": days_ago(-1)},
    ):
        with pytest.raises(Unsound):
            actions.bear_young(dam, **wrong, by=curator)
    young = actions.bear_young(
        dam, code="L1", males=4, females=3, unknown=2, happened_on=days_ago(2), by=curator
    )
    assert isinstance(young, Group)
    assert (young.number, young.sort, young.born_on) == (9, "litter", days_ago(2))
    assert young.parentage.get().parent == dam
    rules = {one.sort: one for one in dam.restrictions.all()}
    assert (rules["gravid"].state, rules["gravid"].ended_on) == ("ended", days_ago(2))
    assert (rules["rearing"].state, rules["rearing"].strength) == ("begun", "observation_only")
    pup = actions.bear_young(dam, code="P1", females=1, happened_on=TODAY, by=curator)
    assert isinstance(pup, Animal)
    assert (pup.sex, pup.parentage.certain().get().parent) == ("female", dam)


def test_a_birth_does_not_end_what_a_veterinary_surgeon_alone_may_end(curator: Person) -> None:
    dam = make_animal()
    make_restriction(dam, sort="gravid", strength="vets_word", began_on=days_ago(50))
    actions.bear_young(dam, code="V1", unknown=1, happened_on=TODAY, by=curator)
    assert dam.restrictions.get(sort="gravid").state == "begun"


# ------------------------------------------------------------------------------------------ travel


def test_nine_tenths_of_350_days_are_315() -> None:
    # Regulation (EC) No 1/2005, Annex I, Chapter I: 90 % of the expected gestation; from memory.
    begun = date(2026, 1, 1)
    assert (unfit_from(begun, 350) - begun).days == 315
    assert (unfit_from(begun, 11) - begun).days == 10  # 9.9 days have passed at the end of day 10
    with pytest.raises(ValueError, match="a day or longer"):
        unfit_from(begun, 0)
    assert [is_soon_after(begun, begun + timedelta(days=d)) for d in (-1, 0, 6, 7)] == [
        False, True, True, False
    ]  # fmt: skip


@pytest.mark.parametrize(("days", "is_fit"), [(314, True), (315, False)])
def test_an_animal_does_not_depart_in_the_last_tenth_of_its_gestation(
    days: int, is_fit: bool, curator: Person, shark: Taxon
) -> None:
    animal = make_animal(taxon=shark)
    since = days_ago(days)
    actions.scan_animal(
        animal, is_pregnant=True, since_on=since, happened_on=days_ago(100), by=curator
    )
    leave = {"sort": "departed", "happened_on": TODAY, "by": curator}
    if is_fit:
        assert actions.leave_animal(animal, **leave).state == "left"
        return
    with pytest.raises(Unsound, match="90 %") as refused:
        actions.leave_animal(animal, **leave)
    assert "vets_word" in refused.value.fields
    left = actions.leave_animal(animal, vets_word="Dr F., sea water failed", **leave)
    event = left.events.last()
    assert event is not None
    assert "Dr F." in event.note


def test_an_animal_does_not_depart_in_the_week_after_a_birth(curator: Person) -> None:
    dam = make_animal()
    actions.bear_young(dam, code="W1", unknown=2, happened_on=days_ago(7), by=curator)
    actions.bear_young(dam, code="W2", unknown=2, happened_on=days_ago(6), by=curator)
    with pytest.raises(Unsound, match="less than a week"):
        actions.leave_animal(dam, sort="departed", happened_on=TODAY, by=curator)
    assert actions.leave_animal(dam, sort="died", happened_on=TODAY, by=curator).state == "left"


def test_one_of_which_it_is_not_known_how_far_it_is_does_not_depart(curator: Person) -> None:
    animal = make_animal(taxon=make_taxon())
    actions.scan_animal(animal, is_pregnant=True, happened_on=TODAY, by=curator)
    with pytest.raises(Unsound, match="not known how far"):
        actions.leave_animal(animal, sort="departed", happened_on=TODAY, by=curator)


def test_a_death_before_a_birth_is_refused(curator: Person) -> None:
    group = make_group()
    with pytest.raises(Unsound, match="lies after"):
        actions.count_group(
            group, unknown=-1, sort="died", born_on=TODAY, happened_on=days_ago(1), by=curator
        )
    with pytest.raises(Unsound, match="when it was born"):
        make_animal(born_on=days_ago(3), arrived_on=days_ago(4))


# ------------------------------------------------------------------------------ strengths by kind


def test_each_kind_of_restriction_has_its_usual_strength(curator: Person) -> None:
    usual = {sort: Restriction.usual(sort) for sort in Restriction.Sort}
    # The house's own rule, no source: see the words beside the field.
    assert {str(sort) for sort, strength in usual.items() if strength == "observation_only"} == {
        "gravid", "rearing", "resting"
    }  # fmt: skip
    assert usual[Restriction.Sort.TREATMENT] == "vets_word"
    begun = actions.begin_restriction(make_animal(), sort="resting", began_on=TODAY, by=curator)
    assert begun.strength == "observation_only"


def test_a_quarantine_has_an_earliest_end_and_a_veterinary_surgeon_who_clears_it(
    curator: Person,
) -> None:
    animal, vet = make_animal(), make_person(Role.VET)
    with pytest.raises(Unsound, match="earliest"):
        actions.begin_restriction(animal, sort="quarantine", began_on=days_ago(20), by=curator)
    with pytest.raises(Unsound):
        make_restriction(
            animal, sort="quarantine", began_on=days_ago(20), earliest_end_on=days_ago(21)
        )
    held = make_restriction(
        animal, sort="quarantine", began_on=days_ago(20), earliest_end_on=days_ago(5)
    )
    end = {"reason": "clear", "by": vet}
    with pytest.raises(Unsound, match="at the earliest"):
        actions.end_restriction(held, ended_on=days_ago(6), **end)
    with pytest.raises(NotPermitted):
        actions.end_restriction(held, ended_on=TODAY, reason="clear", by=curator)
    assert actions.end_restriction(held, ended_on=days_ago(5), **end).ended_by == vet
