"""When each animal of a project is protected, by what the register knows of it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from registry.animals.actions import record_stage
from registry.animals.models import Animal
from registry.approvals.actions import decide_stage, screen_procedure
from registry.approvals.rules.law import rules_on
from registry.approvals.rules.protection import Override, StageFacts
from registry.approvals.rules.stages import Known, Told, protected_on, spell
from registry.approvals.screens import Said, screenings_of
from registry.approvals.staging import stages_of
from registry.errors import NotPermitted, Unsound
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_case, make_group, make_taxon
from tests.worlds.approvals import make_collecting, make_ready
from tests.worlds.oversight import make_confirmed_booking
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

LAID = date(2026, 5, 1)
UK, EU = rules_on("uk", LAID), rules_on("eu", LAID)
DAY = timedelta(days=1)
EGG = Known(StageFacts("bird", LAID, LAID, period_least_d=35), [(LAID, "egg")], LAID + 5 * DAY)
FIRST, LAST = LAID, LAID + 90 * DAY


def test_an_egg_is_protected_from_two_thirds_of_its_period_on() -> None:
    """Two-thirds of 35 days are 23.3; of days alone the whole part counts: ASPA 1986, s.1(2)."""
    assert spell(EGG, FIRST, LAST, UK).from_on == LAID + 23 * DAY


def test_what_may_have_hatched_by_then_is_treated_as_protected() -> None:
    found = spell(EGG, FIRST, LAST, EU)
    assert (found.from_on, found.then.is_certain) == (LAID + 35 * DAY, False)
    string = replace(EGG, facts=replace(EGG.facts, animal_class="cephalopod"))
    assert spell(string, FIRST, LAST, UK).from_on == LAID + 35 * DAY


def test_an_egg_of_an_unknown_period_is_treated_as_protected_from_tomorrow_on() -> None:
    string = replace(EGG, facts=StageFacts("cephalopod", LAID, LAID))
    assert spell(string, FIRST, LAST, UK).from_on == string.known_on + DAY


def test_each_stage_counts_from_the_day_on_which_it_was_reached() -> None:
    larva = Known(
        StageFacts("bony_fish", LAID, LAID, feeds_from=LAID + 5 * DAY),
        [(LAID, "egg"), (LAID + 3 * DAY, "larva"), (LAID + 40 * DAY, "juvenile")],
        LAST,
    )
    assert spell(larva, FIRST, LAST, UK).from_on == LAID + 5 * DAY


def test_what_a_person_decided_holds_for_its_days_alone() -> None:
    hatchling = Known(StageFacts("cartilaginous_fish", LAID), [(LAID, "hatchling")], LAST)
    told = Told(Override(False, "Ada Tern", "still on its yolk"), LAID, LAID + 10 * DAY)
    assert spell(hatchling, FIRST, LAST, UK).is_throughout
    found = spell(replace(hatchling, told=[told]), FIRST, LAST, UK)
    assert (found.from_on, found.is_throughout) == (LAID + 11 * DAY, False)


def test_a_study_that_ends_before_it_begins_is_refused() -> None:
    assert spell(EGG, FIRST, FIRST, UK).from_on is None
    with pytest.raises(ValueError, match="cannot end"):
        spell(EGG, LAST, FIRST, UK)


@given(
    animal_class=st.sampled_from(["bird", "mammal", "bony_fish", "cephalopod", "decapod"]),
    period=st.none() | st.integers(1, 120),
    known=st.integers(0, 60),
    length=st.integers(0, 100),
    began=st.booleans(),
)
def test_the_first_protected_day_is_the_one_that_asking_each_day_would_find(
    animal_class: str, period: int | None, known: int, length: int, began: bool
) -> None:
    facts = StageFacts(animal_class, LAID, LAID if began else None, period_least_d=period)
    egg = Known(facts, [(LAID, "egg")], LAID + known * DAY)
    days = [LAID + n * DAY for n in range(length + 1)]
    each = [day for day in days if protected_on(egg, day, UK).is_protected]
    assert spell(egg, days[0], days[-1], UK).from_on == (each[0] if each else None)


# ------------------------------------------------------------------------------ from the register


@pytest.mark.django_db
@pytest.mark.postgres
def test_the_register_says_who_a_project_works_with_and_at_which_stage() -> None:
    taxon = make_taxon("Sepia officinalis", taxon_class="cephalopod")
    world = make_collecting(taxon=taxon)
    adult = make_animal(taxon=taxon, enclosure=world.place, life_stage="adult")
    case = make_case(taxon=taxon, enclosure=world.place)
    planned = stages_of([world.project], is_planned=True)[world.project.pk]
    assert {str(one.subject) for one in planned} == {str(adult), str(case)}
    assert not any(one.is_booked for one in planned)
    assert stages_of([world.project])[world.project.pk] == []
    clutch = make_group(taxon=taxon, enclosure=world.place, life_stage="egg")
    make_confirmed_booking(world, animals=[adult], groups=[(clutch, 3)])
    found = {str(one.subject): one for one in stages_of([world.project])[world.project.pk]}
    assert set(found) == {str(adult), str(clutch)}
    rules = rules_on("uk", timezone.localdate())
    assert found[str(adult)].spell(world.project, rules).is_throughout
    assert not found[str(clutch)].spell(world.project, rules).is_throughout


@pytest.mark.django_db
def test_reading_the_stages_of_more_projects_takes_no_query_more(
    django_assert_max_num_queries: object,
) -> None:
    worlds = [make_ready() for _ in range(2)]
    for world in worlds:
        make_confirmed_booking(world)
    with django_assert_max_num_queries(9):  # type: ignore[operator]  # why: a fixture
        assert all(stages_of([one.project for one in worlds]).values())


@pytest.mark.django_db
def test_a_hatchling_that_becomes_a_pup_or_a_booking_of_eggs_makes_a_screening_stale() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    young = make_animal(taxon=world.taxon, enclosure=world.place, life_stage="hatchling")
    make_confirmed_booking(world, animals=[young])

    def screened(stage: str) -> None:
        screen_procedure(
            world.project,
            procedure=world.procedure,
            taxon=world.taxon,
            life_stage=stage,
            told=Said("uk", "scientific", "none"),
            answer="not regulated",
            by=vet,
        )

    screened("adult")
    assert [str(one.life_stage) for one in screenings_of([world.project]).missing] == ["hatchling"]
    screened("hatchling")
    now = screenings_of([world.project])
    assert (now.stale, list(now.missing)) == ([], [])
    keeper = make_person(Role.KEEPER)
    record_stage(young, life_stage="pup", happened_on=timezone.localdate(), by=keeper)
    now = screenings_of([world.project])
    assert [one.changed for one in now.stale] == [
        ["the animals at this stage, or what is known of them"]
    ]
    assert [str(one.life_stage) for one in now.missing] == ["pup"]


@pytest.mark.django_db
def test_a_decision_on_a_stage_needs_one_animal_a_reason_and_an_end() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    young: Animal = make_animal(taxon=world.taxon, enclosure=world.place, life_stage="hatchling")
    make_confirmed_booking(world, animals=[young])
    today = timezone.localdate()
    sound = {"animal": young, "is_protected": False, "from_on": today, "reason": "On its yolk."}
    for broken, field in (
        ({"animal": None}, "animal"),
        ({"reason": " "}, "reason"),
        ({"until_on": None}, "until_on"),
        ({"until_on": today - DAY}, "until_on"),
    ):
        asked = {**sound, "until_on": today + DAY, **broken}
        with pytest.raises(Unsound) as refused:
            decide_stage(world.project, **asked, by=vet)  # type: ignore[arg-type]  # why: one of them is broken
        assert field in refused.value.fields
    with pytest.raises(NotPermitted):
        decide_stage(world.project, **sound, until_on=today, by=lead_of(world.project))  # type: ignore[arg-type]  # why: as above
    decide_stage(world.project, **sound, until_on=today + DAY, by=vet)  # type: ignore[arg-type]  # why: as above
    one = stages_of([world.project])[world.project.pk][0]
    assert not protected_on(one.known, today, UK).is_protected
    assert protected_on(one.known, today + 2 * DAY, UK).is_protected
