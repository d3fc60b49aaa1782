"""Which animals an accepted version shows in which session, and that they become uses once."""

import doctest
import io

import pytest
from django.test import Client

from archive.engine import in_view
from archive.engine.in_view import pairs_in
from archive.in_view import MOST_ROWS, seen_in
from archive.models import Version
from registry.errors import Unsound
from tests.worlds.approvals import World
from tests.worlds.archive import descriptor, make_dictionary, make_version
from tests.worlds.oversight import make_enrolled, make_handling, make_held_session

SCHEMA = {
    "missingValues": ["", "NA"],
    "fields": [
        {"name": "session", "x:role": "session"},
        {"name": "ray", "x:role": "animal"},
        {"name": "shoal", "x:role": "group"},
    ],
}


def test_the_examples_in_the_docstrings_hold() -> None:
    assert doctest.testmod(in_view).failed == 0


def test_each_pair_is_given_once_and_what_is_missing_is_none() -> None:
    text = "session; ray;shoal\nS1;R-1;NA\nS1;R-1;G-1\nNA;R-2;NA\n\nS2;;G-1\nS2\n"
    found = list(pairs_in(io.StringIO(text), SCHEMA, {"delimiter": ";"}))
    assert found == [("S1", "R-1"), ("S1", "G-1"), ("S2", "G-1")]
    bare = {"fields": [{"name": "ray", "x:role": "animal"}]}
    assert list(pairs_in(io.StringIO("ray\nR-1\n"), bare, {})) == []


def make_sessioned(world: World, *lines: str) -> Version:
    """Give an accepted version whose rows name their session."""
    given = descriptor()
    given["resources"][0]["schema"]["fields"].insert(
        1, {"name": "session", "type": "string", "title": "Session", "x:role": "session"}
    )
    make_dictionary(world.project.study, **given)
    content = "\n".join(["scan,session,ray,seen_on,posture,depth", *lines, ""]).encode()
    return make_version({"scans.csv": content}, project=world.project)


@pytest.mark.django_db
def test_the_page_enters_what_an_accepted_version_shows_and_a_second_time_nothing() -> None:
    world = make_handling()
    ray = make_enrolled(world, 1)[0]
    held = make_held_session(world, [])
    day = held.planned_start.date().isoformat()
    version = make_sessioned(
        world,
        f"1,{held.code},{ray.code},{day},REST,1.5",
        f"2,{held.code},{ray.code},{day},SWIM,2.5",
    )
    assert list(seen_in(version)) == [(held.code, ray.code)]
    client = Client()
    client.force_login(world.lead)
    address = f"/archive/projects/{world.project.pk}/enter_uses/"
    assert version.number in client.get(address).content.decode()
    sent = {"version": version.pk, "procedure": world.procedure.pk}
    assert client.post(address, sent).status_code == 302
    assert held.uses.get().note == f"From {version.identifier}"
    again = client.post(address, sent)
    assert again.status_code == 409
    assert "on record already" in again.content.decode()
    version.rows = MOST_ROWS + 1
    with pytest.raises(Unsound, match="at most"):
        list(seen_in(version))
