"""Kin as the pages say it: certain parents alone are reckoned with; what is not known is said."""

import json
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from registry.animals import kin_views, looking_api
from registry.animals.models import Animal
from registry.animals.pedigrees import lineage_of
from registry.animals.relatives import kin_of, near_kin_among, relatedness_of
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_animals, make_enclosure, make_group, make_taxon
from tests.worlds.kin import make_parent
from tests.worlds.people import make_person

pytestmark = [pytest.mark.django_db, pytest.mark.postgres]


@pytest.fixture
def rays() -> list[Animal]:
    """A dam, a sire, another sire, and three young: two full sibs, and a half sib of both."""
    by = make_person(Role.CURATOR)
    shared: dict[str, Any] = {"taxon": make_taxon(by=by), "enclosure": make_enclosure(by=by)}
    names = ("Loveday", "Corrow", "Denzil", "Skerry", "Holm", "Voe")
    sexes = ("female", "male", "male", "female", "female", "male")
    found = [
        make_animal(name=name, sex=sex, by=by, **shared)
        for name, sex in zip(names, sexes, strict=True)
    ]
    loveday, corrow, denzil, skerry, holm, voe = found
    for young, sire in ((skerry, corrow), (holm, corrow), (voe, denzil)):
        make_parent(young, "dam", loveday, evidence="seen_birth")
        make_parent(young, "sire", sire)
    return found


def test_near_relatives_stand_with_what_they_are_and_their_kinship(rays: list[Animal]) -> None:
    loveday, corrow, _denzil, skerry, holm, voe = rays
    kin = kin_of(skerry)
    said = {one.animal: (one.said, one.kinship) for one in kin.relatives}
    assert said == {
        loveday: ("dam", 0.25),
        corrow: ("sire", 0.25),
        holm: ("full sib", 0.25),
        voe: ("half sib", 0.125),
    }
    assert kin.inbreeding == 0
    assert {one.animal for one in kin_of(loveday).relatives} == {skerry, holm, voe}
    assert kin_of(loveday).inbreeding is None


def test_an_uncertain_sire_is_never_assumed_and_the_page_says_so(
    client: Client, rays: list[Animal]
) -> None:
    loveday, corrow, denzil, skerry, _holm, _voe = rays
    assumed, either = make_animals(2, taxon=skerry.taxon, enclosure=skerry.enclosure)
    for young in (assumed, either):
        make_parent(young, "dam", loveday)
    make_parent(assumed, "sire", corrow, evidence="assumed")
    make_parent(either, "sire", corrow, denzil)
    for young in (assumed, either):
        kin = kin_of(young)
        assert kin.is_uncertain
        # Half sib of all through the dam alone; the sire adds nothing.
        values = {one.animal: one.kinship for one in kin.relatives}
        assert values[skerry] == 0.125
        assert corrow not in values
        assert kin.inbreeding is None
    client.force_login(make_person(Role.KEEPER))
    page = client.get(assumed.get_absolute_url()).content.decode()
    assert "Sire: Corrow, but only assumed." in page
    assert "never reckoned with" in page
    page = client.get(either.get_absolute_url()).content.decode()
    assert "Corrow or Denzil; which of them is not known." in page
    # The certain ones of the same page need no such words.
    assert "never reckoned with" not in client.get(skerry.get_absolute_url()).content.decode()


def test_what_was_said_before_counts_no_more(rays: list[Animal]) -> None:
    voe, corrow = rays[5], rays[1]
    held = voe.parentage.get(role="sire")
    held.replaced_at = timezone.now()
    held.save()
    make_parent(voe, "sire", corrow)
    assert {one.said for one in kin_of(voe).relatives} == {"dam", "sire", "full sib"}


def test_who_is_drawn_from_a_litter_has_its_parents_unless_others_joined_it(
    rays: list[Animal],
) -> None:
    loveday, skerry = rays[0], rays[3]
    litter = make_group(sort="litter", taxon=skerry.taxon, enclosure=skerry.enclosure)
    make_parent(litter, "dam", loveday)
    pup = make_animal(taxon=skerry.taxon, enclosure=skerry.enclosure)
    Animal.objects.filter(pk=pup.pk).update(drawn_from=litter)
    assert lineage_of([skerry.taxon]).parents[pup.pk] == {"dam": loveday.pk}
    litter.events.create(
        sort="joined", happened_on=timezone.localdate(), recorded_by=make_person(Role.CURATOR)
    )
    assert pup.pk not in lineage_of([skerry.taxon]).parents
    # What is said of the pup itself goes before all that.
    make_parent(pup, "dam", skerry)
    assert lineage_of([skerry.taxon]).parents[pup.pk] == {"dam": skerry.pk}


def test_a_set_of_full_sibs_is_worth_fewer(rays: list[Animal]) -> None:
    loveday, corrow, _denzil, skerry, holm, _voe = rays
    young = make_animals(4, taxon=skerry.taxon, enclosure=skerry.enclosure)
    for one in young:
        make_parent(one, "dam", loveday)
        make_parent(one, "sire", corrow)
    found = relatedness_of([skerry, holm, *young])
    assert found is not None
    assert dict(found.worth)[0.4] == pytest.approx(3.0)
    assert found.number_of_pairs == 15
    assert {pair.kinship for pair in found.pairs} == {0.25}
    assert found.unknown == 0


def test_a_set_says_what_it_does_not_know(rays: list[Animal]) -> None:
    loveday, corrow, denzil, _skerry, _holm, voe = rays
    either = make_animal(taxon=voe.taxon, enclosure=voe.enclosure)
    make_parent(either, "sire", corrow, denzil)
    found = relatedness_of([corrow, denzil, either])
    assert found is not None
    assert (found.number_of_pairs, found.uncertain, found.unknown) == (0, [either], 3)
    assert dict(found.worth)[0.4] == pytest.approx(3.0)
    assert relatedness_of([loveday]) is None


def test_kin_cost_the_same_queries_for_few_and_for_many(rays: list[Animal]) -> None:
    with CaptureQueriesContext(connection) as few:
        relatedness_of(rays[:2])
    more_rays = [*rays, *make_animals(20, taxon=rays[0].taxon, enclosure=rays[0].enclosure)]
    with CaptureQueriesContext(connection) as more:
        relatedness_of(more_rays)
        near = near_kin_among(more_rays)
    assert (len(few), len(more)) == (2, 4)
    assert near[rays[3].pk] == [
        "Loveday (dam)", "Corrow (sire)", "Holm (full sib)", "Voe (half sib)"
    ]  # fmt: skip


def test_the_page_of_a_kind_shows_rare_blood_first_and_its_breeders(
    client: Client, rays: list[Animal]
) -> None:
    client.force_login(make_person(Role.KEEPER))
    address = f"/animals/taxa/{rays[0].taxon_id}/kin/"
    page = client.get(address).content.decode()
    assert page.index(">Denzil<") < page.index(">Corrow<") < page.index(">Skerry<")
    # Two sires and one dam: 4 x 2 x 1 / 3.
    assert "<dd>2.7</dd>" in page
    table: Any = client.get(f"/animals/taxa/{rays[0].taxon_id}/kinship.csv")
    lines = b"".join(table).decode().splitlines()
    assert lines[0].count(",") == len(lines) - 1 == 6
    cells = dict(zip(lines[0].split(",")[1:], lines[4].split(",")[1:], strict=True))
    assert cells[rays[3].code] == "0.5"
    assert cells[rays[4].code] == "0.25"
    assert cells[rays[5].code] == "0.125"


def test_a_program_is_told_the_same(rays: list[Animal]) -> None:
    loveday, corrow, denzil, skerry, _holm, voe = rays
    caller = APIClient()
    caller.force_authenticate(make_person(Role.KEEPER))
    told = caller.get(f"/api/v1/animals/{skerry.pk}/relatives/").json()
    assert {"animal": voe.pk, "is_its": "half sib", "kinship": 0.125} in told["relatives"]
    assert (told["inbreeding"], told["more"], told["uncertain"]) == (0, 0, [])
    either = make_animal(taxon=voe.taxon, enclosure=voe.enclosure)
    make_parent(either, "sire", corrow, denzil)
    told = caller.get(f"/api/v1/animals/{either.pk}/relatives/").json()
    assert told["relatives"] == []
    assert told["uncertain"] == [
        {"role": "sire", "assumed": None, "candidates": [corrow.pk, denzil.pk]}
    ]
    assert loveday.pk not in {one["animal"] for one in told["relatives"]}


def test_a_kind_of_which_none_lives_here_says_so(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    taxon = make_taxon("Octopus vulgaris", taxon_class="cephalopod")
    assert (
        "no pedigree of their own" in client.get(f"/animals/taxa/{taxon.pk}/kin/").content.decode()
    )


def test_a_program_reads_the_kinship_of_a_chosen_set_and_of_a_kind(
    rays: list[Animal], monkeypatch: pytest.MonkeyPatch
) -> None:
    loveday, corrow, denzil, skerry, holm, voe = rays
    make_parent(make_animal(taxon=voe.taxon), "sire", corrow, denzil)
    api = APIClient()
    api.force_authenticate(make_person(Role.STUDENT))
    chosen = [skerry.pk, holm.pk, voe.pk]
    with CaptureQueriesContext(connection) as made:
        told = api.get("/api/v1/animals/kinship/", {"animal": chosen}).json()
    assert told["animals"] == chosen
    # Full sibs 0.25, half sibs 0.125 (Falconer and Mackay 1996, table 9.4; from memory).
    assert told["kinship"] == [[0.5, 0.25, 0.125], [0.25, 0.5, 0.125], [0.125, 0.125, 0.5]]
    assert told["effective_size"]["0.4"] < 3
    assert len(made) <= 6
    assert api.get("/api/v1/animals/kinship/").json()["kinship"] == []
    for wrong in ([skerry.pk, 10**9], [skerry.pk, "x"]):
        assert api.get("/api/v1/animals/kinship/", {"animal": wrong}).status_code == 422
    whole: Any = api.get(f"/api/v1/taxa/{voe.taxon_id}/kinship/")
    read = json.loads(b"".join(whole.streaming_content))
    places = {pk: at for at, pk in enumerate(read["animals"])}
    a, b = sorted((places[skerry.pk], places[loveday.pk]), reverse=True)
    assert read["kinship"][a][b] == 0.25
    assert [len(row) for row in read["kinship"]] == [*range(1, 8)]
    monkeypatch.setattr(looking_api, "MOST_IN_SET", 2)
    monkeypatch.setattr(kin_views, "MOST_IN_MATRIX", 2)
    assert api.get("/api/v1/animals/kinship/", {"animal": chosen}).status_code == 413
    assert api.get(f"/api/v1/taxa/{voe.taxon_id}/kinship/").status_code == 413
