"""What is asked beside the tests: published values, and bad input in words."""

from typing import Any

import pytest
from django.test import Client
from rest_framework.test import APIClient

from registry.desk.designing.aside import ASIDE
from registry.permissions import Role
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db

PILOT = "Moss, 600, 0-60, 300-420\nFern, 600, 50-90"
ANSWERED: list[tuple[str, dict[str, Any], str]] = [
    # Edgington and Onghena (2007): 20 sessions, phases of 5 or more, 11 assignments, p .091.
    ("one-animal", {"sessions": 20, "phases": "AB", "shortest": 5}, "smallest p 0.0909"),
    # Four animals at four starting times: 4! = 24 (Wampold and Worsham 1986, from memory).
    ("staggered", {"animals": 4, "starts": 4}, "24 admissible assignments"),
    # Three windows of five: 5³ = 125 (Marascuilo and Busk 1988, from memory).
    ("staggered", {"animals": 3, "windows": "5, 5, 5"}, "125 admissible assignments"),
    # A t interval of half a standard deviation to either side: 18 units.
    ("mean-width", {"sd": 1, "half_width": 0.5}, "18 units"),
    # Wilson's interval of .1 to either side (Newcombe 1998): 93 at .5, 60 at .8, 25 at .95.
    ("share-width", {"share": 0.5, "half_width": 0.1}, "93 units"),
    ("share-width", {"share": 0.8, "half_width": 0.1}, "60 units"),
    ("share-width", {"share": 0.95, "half_width": 0.1}, "25 units"),
    # Krejcie and Morgan (1970) give 10 of 10 and 80 of 100, rounded to the nearest.
    ("collection", {"collection": 10}, "Look at 10 of the 10."),
    ("collection", {"collection": 100}, "Look at 80 of the 100."),
    # Festing (2018): 4 treatments of 5 leave 16; 16 tanks in 4 blocks leave 9.
    ("resource", {"units": 20, "treatments": 4}, "16 error degrees of freedom: within"),
    ("resource", {"units": 16, "treatments": 4, "blocks": 4}, "9 error degrees of freedom: below"),
    ("interval", {"watches": PILOT, "intervals": "30, 300"}, "any error looks small beside it"),
]


def text_of(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split()).replace("&#x27;", "'")


@pytest.mark.parametrize(("kind", "given", "said"), ANSWERED)
def test_the_page_and_the_api_give_the_published_answer(
    kind: str, given: dict[str, Any], said: str
) -> None:
    person = make_person(Role.STUDENT)
    browser, caller = Client(), APIClient()
    browser.force_login(person)
    caller.force_authenticate(person)
    assert said in text_of(browser.get("/design/", {"design": kind, **given}))
    usual = {
        name: field.initial
        for name, field in ASIDE[kind].base_fields.items()
        if field.initial is not None
    }
    told = caller.post("/api/v1/design/size/", {**usual, "design": kind, **given}, format="json")
    assert told.status_code == 200, told.data
    assert said in f"{told.data['said']} {' '.join(told.data['notes'])}"


@pytest.mark.parametrize(
    ("kind", "given", "said"),
    [
        ("one-animal", {"sessions": 5, "phases": "ABAB", "shortest": 3}, "do not hold the phases"),
        ("one-animal", {"sessions": 20, "phases": "AA", "shortest": 3}, "changes from one"),
        ("staggered", {"animals": 3}, "either the starting times or the windows"),
        ("staggered", {"animals": 3, "windows": "5, 5"}, "one number for each animal"),
        ("staggered", {"animals": 4, "starts": 3}, "at least 4"),
        ("staggered", {"animals": 3, "windows": "nan, 5, 5"}, "each up to a million"),
        ("mean-width", {"sd": 0, "half_width": 1}, "must be above 0"),
        ("mean-width", {"sd": 1, "half_width": 0}, "must be above 0"),
        ("mean-width", {"sd": 1, "half_width": 1, "confidence": 1}, "above 0 and below 1"),
        ("share-width", {"share": 1.2, "half_width": 0.1}, "from 0 to 1"),
        ("collection", {"collection": 0}, "at least 1"),
        ("resource", {"units": 4, "treatments": 4}, "Nothing is left"),
        ("resource", {"units": 4, "treatments": 1}, "at least 2"),
        ("interval", {"watches": "Moss", "intervals": "30"}, "could not be read"),
        ("interval", {"watches": "Moss, nan, 0-5", "intervals": "30"}, "could not be read"),
        ("interval", {"watches": "Moss, 60, 50-40", "intervals": "30"}, "do not follow"),
        ("interval", {"watches": PILOT, "intervals": "0"}, "must be above 0"),
        ("interval", {"watches": PILOT, "intervals": "9999"}, "interval in seconds must be"),
    ],
)
def test_what_cannot_be_answered_is_said_in_words(
    kind: str, given: dict[str, Any], said: str
) -> None:
    browser = Client()
    browser.force_login(make_person(Role.STUDENT))
    assert said in text_of(browser.get("/design/", {"design": kind, **given}))


def test_every_one_is_listed_and_answered() -> None:
    browser = Client()
    browser.force_login(make_person(Role.STUDENT))
    page = text_of(browser.get("/design/"))
    assert all(f"?design={kind}" in page for kind in ASIDE)
    assert {kind for kind, *_rest in ANSWERED} == set(ASIDE)
