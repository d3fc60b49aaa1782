"""Whose young one is: evidence, candidates, and what cannot be."""

import pytest

from registry.animals import actions
from registry.animals.models import Animal, Parentage, Taxon
from registry.errors import Unsound
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import days_ago, make_animal, make_case, make_enclosure, make_taxon
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def curator() -> Person:
    return make_person(Role.CURATOR)


def young_one(**more: object) -> Animal:
    return make_animal(born_on=days_ago(100), arrived_on=days_ago(100), **more)  # type: ignore[arg-type]  # why: facts of any kind are passed on


def test_one_parent_or_two_candidates_are_named_and_the_last_word_stands(curator: Person) -> None:
    young, sire, other = young_one(), make_animal(sex="male"), make_animal(sex="male")
    for named in (
        {},
        {"candidates": [sire]},
        {"candidates": [sire, sire]},
        {"parent": sire, "candidates": [sire, other]},
    ):
        with pytest.raises(Unsound):
            actions.name_parent(young, role="sire", evidence="assumed", by=curator, **named)
    first = actions.name_parent(
        young, role="sire", candidates=[sire, other], evidence="seen_mating", by=curator
    )
    assert {one.animal for one in first.candidates.all()} == {sire, other}
    assert not Parentage.objects.certain().exists()  # an uncertain sire is never reckoned with
    actions.name_parent(young, role="sire", parent=sire, evidence="assumed", by=curator)
    assert not Parentage.objects.certain().exists()
    actions.name_parent(young, role="sire", parent=sire, evidence="genetic", by=curator)
    assert Parentage.objects.certain().get().parent == sire
    assert (young.parentage.count(), young.parentage.standing().count()) == (3, 1)


def test_what_cannot_be_a_parent_is_refused(curator: Person) -> None:
    young = young_one()
    later = make_animal(sex="male", born_on=days_ago(50), arrived_on=days_ago(50))
    twin = make_animal(sex="male", born_on=days_ago(100), arrived_on=days_ago(100))
    other = make_taxon("Sepia officinalis", "cuttlefish", "cephalopod")
    cases = [
        (make_animal(sex="female"), "cannot be a sire"),
        (make_animal(sex="male", taxon=other), "of another taxon"),
        (later, "not before"),
        (twin, "not before"),
    ]
    for parent, said in cases:
        with pytest.raises(Unsound, match=said) as refused:
            actions.name_parent(young, role="sire", parent=parent, evidence="genetic", by=curator)
        assert "parent" in refused.value.fields
    with pytest.raises(Unsound, match="cannot be a dam"):
        actions.name_parent(
            young, role="dam", parent=make_animal(sex="male"), evidence="genetic", by=curator
        )


def test_nobody_is_its_own_forebear(curator: Person) -> None:
    first, second, third = (make_animal(sex="hermaphrodite") for _ in range(3))
    actions.name_parent(second, role="dam", parent=first, evidence="assumed", by=curator)
    actions.name_parent(
        third, role="sire", candidates=[second, make_animal(sex="male")], evidence="seen_mating",
        by=curator,
    )  # fmt: skip
    for young, parent in ((first, first), (first, second), (first, third)):
        with pytest.raises(Unsound, match="descends from it"):
            actions.name_parent(young, role="sire", parent=parent, evidence="genetic", by=curator)
    assert actions.name_parent(third, role="dam", parent=first, evidence="genetic", by=curator)


@pytest.fixture
def skate(curator: Person) -> Taxon:
    # Clearnose skate: 94 to 77 days in the case at 20-22 C, sperm viable for three months or more
    # (Luer and Gilbert 1985, Environ. Biol. Fish. 13:161-171); ninety days written for it here.
    return actions.add_taxon(
        scientific_name="Rostroraja eglanteria",
        common_name="clearnose skate",
        taxon_class="cartilaginous_fish",
        breeding="lays",
        period_least_d=77,
        period_most_d=94,
        period_source="Luer and Gilbert 1985",
        sperm_storage_d=90,
        sperm_storage_source="Luer and Gilbert 1985",
        by=curator,
    )


def test_the_only_one_present_looks_back_as_far_as_sperm_is_stored(
    curator: Person, skate: Taxon
) -> None:
    home, away = make_enclosure(), make_enclosure()
    dam = make_animal(taxon=skate, enclosure=home, sex="female")
    sire, former = (make_animal(taxon=skate, enclosure=home, sex="male") for _ in range(2))
    young = young_one(taxon=skate, enclosure=home)
    facts = {"role": "sire", "parent": sire, "evidence": "only_present", "by": curator}
    with pytest.raises(Unsound, match="not named"):
        actions.name_parent(young, **facts)
    actions.name_parent(young, role="dam", parent=dam, evidence="seen_birth", by=curator)
    # Born 100 days ago: who lived with the dam in the 184 days before could be the sire.
    actions.move_animal(former, enclosure=away, happened_on=days_ago(283), by=curator)
    with pytest.raises(Unsound, match=f"lived with {former}"):
        actions.name_parent(young, **facts)
    actions.take_back_animal_event(former, reason="a day wrong", by=curator)
    actions.move_animal(former, enclosure=away, happened_on=days_ago(285), by=curator)
    assert actions.name_parent(young, **facts).is_certain


def test_where_the_storage_of_sperm_is_not_known_nobody_can_be_left_out(curator: Person) -> None:
    dam, sire, young = make_animal(sex="female"), make_animal(sex="male"), young_one()
    actions.name_parent(young, role="dam", parent=dam, evidence="seen_birth", by=curator)
    with pytest.raises(Unsound, match="others cannot be left out"):
        actions.name_parent(young, role="sire", parent=sire, evidence="only_present", by=curator)


# -------------------------------------------------------------------------------------------- eggs


def test_a_sire_belongs_to_the_embryo_and_not_to_the_case(curator: Person) -> None:
    # Twin embryos of one case may have two fathers: Hook et al. 2019, PLoS ONE 14:e0224397.
    dam = make_animal(sex="female")
    one, two = (make_animal(sex="male") for _ in range(2))
    case = make_case(dam=dam, embryos=2)
    with pytest.raises(Unsound, match="belongs to an embryo"):
        actions.name_parent(case, role="sire", parent=one, evidence="genetic", by=curator)
    twins = list(case.embryos.all())
    for embryo, sire in zip(twins, (one, two), strict=True):
        actions.name_parent(embryo, role="sire", parent=sire, evidence="genetic", by=curator)
    young = [
        actions.hatch_embryo(embryo, code=f"T{n}", happened_on=days_ago(0), by=curator)
        for n, embryo in enumerate(twins)
    ]
    parents = [{p.role: p.parent for p in one.parentage.certain()} for one in young]
    assert parents == [{"dam": dam, "sire": one}, {"dam": dam, "sire": two}]


def test_candidates_of_an_embryo_are_those_of_the_hatchling(curator: Person) -> None:
    sires = [make_animal(sex="male") for _ in range(2)]
    embryo = make_case().embryos.get()
    actions.name_parent(embryo, role="sire", candidates=sires, evidence="seen_mating", by=curator)
    young = actions.hatch_embryo(embryo, code="C1", happened_on=days_ago(0), by=curator)
    held = young.parentage.get()
    assert {one.animal for one in held.candidates.all()} == set(sires)
    assert not held.is_certain
