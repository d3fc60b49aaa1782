"""A plan warns where the animals on which it draws are kin."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from registry.projects import kin
from registry.projects.kin import planned_kin
from tests.worlds.animals import make_animals, make_taxon
from tests.worlds.kin import make_parent
from tests.worlds.oversight import make_enrolled, make_handling
from tests.worlds.projects import lead_of, make_written

pytestmark = pytest.mark.django_db


def test_a_plan_warns_of_kin_among_those_that_live_here(client: Client) -> None:
    project = make_written(taxon=make_taxon())
    dam, sire, other, *young = make_animals(7, taxon=make_taxon())
    client.force_login(lead_of(project))
    page, writing = f"/studies/projects/{project.pk}/plan/", f"{project.get_absolute_url()}"
    assert "No two of them are related" in client.get(page).content.decode()
    for one in young:
        make_parent(one, "dam", dam)
    for one in young[:3]:
        make_parent(one, "sire", sire)
    make_parent(young[3], "sire", sire, other)
    found = planned_kin(project)
    assert not found.is_enrolled
    assert found.relatedness is not None
    # Four with the dam, three with the sire, and six pairs of sibs.
    assert found.relatedness.number_of_pairs == 13
    said = client.get(page).content.decode()
    assert "Nobody is enrolled yet" in said
    assert "13 pairs are related" in said
    assert f"A parent of {young[3]} is uncertain" in said
    short = client.get(f"{writing}write_plan/").content.decode()
    assert "13 pairs are related" in short
    assert "Of 1 animal a parent is uncertain" in short


def test_a_plan_speaks_of_those_enrolled_alone_once_there_are_some(client: Client) -> None:
    world = make_handling()
    enrolled = [one.animal for one in make_enrolled(world, 2)]
    make_animals(3, taxon=enrolled[0].taxon)  # type: ignore[union-attr]  # why: an animal is enrolled
    found = planned_kin(world.project)
    assert found.is_enrolled
    assert found.relatedness is not None
    assert found.relatedness.size == 2
    client.force_login(world.lead)
    page = client.get(f"/studies/projects/{world.project.pk}/plan/").content.decode()
    assert "Those enrolled in this project." in page


def test_too_many_are_not_reckoned_while_a_page_waits(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    project = make_written(taxon=make_taxon())
    make_animals(3, taxon=make_taxon())
    with CaptureQueriesContext(connection) as made:
        planned_kin(project)
    assert len(made) <= 5
    monkeypatch.setattr(kin, "MOST_TOGETHER", 2)
    found = planned_kin(project)
    assert found.too_many == [make_taxon()]
    client.force_login(lead_of(project))
    page = client.get(f"/studies/projects/{project.pk}/plan/").content.decode()
    assert "Too many of its kinds live here" in page
