"""A list with nothing in it says why, or what to do first."""

import re

import pytest
from django.test import Client
from django.urls import resolve

from registry.permissions import STANDINGS, Role
from tests.architecture.addresses import addresses
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db

EMPTY = re.compile(
    r'<div class="empty"><p><b>(?P<head>[^<]*)</b></p>(?P<more>.*?)</div>', re.DOTALL
)
SIGN = re.compile(r"<[^>]+>")


def pages_without_an_object() -> list[str]:
    """Give the addresses of pages that need no object, and can be asked for by anyone."""
    found = []
    for one in addresses():
        path = f"/{one.route}"
        is_page = not one.captures and not one.is_api and "^" not in path
        if is_page and resolve(path).url_name not in {"sign_out", "redirect"}:
            found.append(path)
    return found


def shown_empty(client: Client, path: str) -> list[tuple[str, str]]:
    """Give each empty part of a page: its heading, and what it says besides."""
    answer = client.get(path)
    if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
        return []
    return EMPTY.findall(answer.content.decode())


@pytest.mark.parametrize("role", [*STANDINGS, ""])
def test_every_empty_part_of_a_page_gives_a_reason_or_a_way_on(client: Client, role: str) -> None:
    client.force_login(make_person(*([role] if role else [])))
    seen = 0
    for path in pages_without_an_object():
        for heading, more in shown_empty(client, path):
            seen += 1
            assert len(SIGN.sub("", more).split()) >= 3, (path, heading)
            assert "filter away" not in more, (path, heading)
    assert seen >= 8


def test_every_list_of_the_five_places_says_so_when_it_is_empty(client: Client) -> None:
    client.force_login(make_person(Role.CURATOR))
    for path in (
        *("/questions/", "/studies/", "/animals/", "/animals/taxa/", "/animals/enclosures/"),
        *("/archive/", "/archive/deposits/", "/archive/dictionaries/", "/studies/approvals/"),
        *("/oversight/bookings/", "/oversight/enrolments/", "/oversight/sessions/"),
        *("/oversight/uses/", "/oversight/breaches/", "/oversight/concerns/"),
    ):
        assert shown_empty(client, path), path


def test_a_list_that_was_narrowed_to_nothing_offers_to_widen_it(client: Client) -> None:
    client.force_login(make_person(Role.KEEPER))
    (_, more), *_ = shown_empty(client, "/questions/?state=parked")
    assert "Take a filter away" in more
    (_, more), *_ = shown_empty(client, "/questions/?page=2")
    assert "Post the first question" in more
