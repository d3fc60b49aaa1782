"""The pages on which something is drawn: allocation, schedule, simulation, and their papers."""

import csv
import doctest
import re
from datetime import date, time, timedelta
from io import StringIO
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from icalendar import Calendar

from registry.animals.actions import add_routine, begin_restriction, end_routine
from registry.animals.models import Restriction, Routine
from registry.desk.designing import drawn
from registry.desk.designing.busy import busy_at
from registry.errors import Conflict, Unsound
from registry.ledger.models import Entry
from registry.permissions import Role
from tests.worlds.animals import make_enclosure
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db

SEED = "00" * 32
SCHEDULE = {
    "animals": "Moss, Fern, Reed",
    "first": "2026-05-04",
    "last": "2026-05-15",
    "weekdays": ["0", "1", "2", "3", "4"],
    "slots": "10:00 quiet\n14:00 busy",
    "length_min": "30",
    "seed": SEED,
}
ALLOCATE: dict[str, dict[str, str]] = {
    "complete": {"units": "8"},
    "permuted": {"units": "8"},
    "crossover": {"units": "4"},
    "phases": {"units": "Moss, Fern", "sessions": "24", "phases": "ABAB", "shortest": "4"},
    "blocked": {"units": "top: T1, T2\nlow: T3, T4"},
    "stratified": {"units": "male: T1, T2\nfemale: T3, T4"},
    "latin": {"units": "rows: top, low\ncolumns: Mon, Tue"},
    "minimised": {"units": "T1: sex=male\nT2: sex=male\nT3: sex=female\nT4: sex=female"},
    "rerandomised": {
        "units": "\n".join(f"T{n}: {n * n}" for n in range(1, 13)),
        "accept": "0.3",
    },
}


@pytest.fixture
def browser() -> Client:
    found = Client()
    found.force_login(make_person(Role.SUPERVISOR))
    return found


def text_of(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split()).replace("&#x27;", "'")


def test_the_examples_hold() -> None:
    assert doctest.testmod(drawn).failed == 0


@pytest.mark.parametrize("method", ALLOCATE)
def test_every_method_is_drawn_and_the_same_seed_draws_the_same(
    method: str, browser: Client
) -> None:
    asked = {"method": method, "arms": "still, brisk", "seed": SEED, **ALLOCATE[method]}
    page = browser.get("/design/draw/allocate/", asked)
    assert "Who gets what, by this draw" in text_of(page)
    again = browser.get(f"/design/draw/allocate/?{page.context['query']}")
    assert again.context["drawn"].found.digest == page.context["drawn"].found.digest
    fragment = text_of(browser.get("/design/draw/allocate/answer/", asked))
    assert "<html" not in fragment
    assert (method == "rerandomised") is ("standard deviations" in fragment)


def test_without_a_seed_one_is_drawn_and_shown(browser: Client) -> None:
    asked = {"method": "complete", "arms": "still, brisk", "units": "8"}
    seeds = {browser.get("/design/draw/allocate/", asked).context["drawn"].seed for _ in range(2)}
    assert len(seeds) == 2


@pytest.mark.parametrize(
    ("name", "asked", "said"),
    [
        ("allocate", {"method": "complete", "arms": "a", "units": "8"}, "two treatments or more"),
        ("allocate", {"method": "complete", "arms": "a, b, c", "units": "x, y"}, "do not bear"),
        ("allocate", {"method": "blocked", "arms": "a, b", "units": "x, y"}, "has no colon"),
        ("allocate", {"method": "latin", "arms": "a, b", "units": "rows: x, y"}, "two lines"),
        ("allocate", {"method": "complete", "arms": "a, b", "units": "8", "seed": "1"}, "Seed"),
        ("allocate", {"method": "rerandomised", "arms": "a, b", "units": "T1: nan"}, "numbers"),
        ("schedule", {**SCHEDULE, "slots": "noon"}, "“noon” is no time of day"),
        ("schedule", {**SCHEDULE, "last": "2026-05-01"}, "before the first one"),
        ("schedule", {**SCHEDULE, "last": "2036-05-01"}, "two hundred days"),
        ("schedule", {**SCHEDULE, "every_min": "45"}, "No scan falls into the session"),
        ("schedule", {**SCHEDULE, "every_min": "-5"}, "time must pass"),
        ("schedule", {**SCHEDULE, "animals": "Moss, Moss"}, "name of its own"),
        ("simulate", {"means": "0, 1", "units": "4", "analysis": "unit_t", "icc": "2"}, "ICC"),
        ("simulate", {"means": "0, x", "units": "4", "analysis": "unit_t"}, "Write numbers"),
        ("simulate", {"means": "0, 1", "units": "4", "sd": "0"}, "must be above 0"),
        ("simulate", {"means": "0, 1", "units": "900", "runs": "99999", "per_unit": "99",
                      "analysis": "animal_t"}, "fewer runs"),
    ],
)  # fmt: skip
def test_what_cannot_be_drawn_is_said_in_words(
    name: str, asked: dict[str, Any], said: str, browser: Client
) -> None:
    usual = {"analysis": "unit_t", "outcome": "measure"} if name == "simulate" else {}
    page = text_of(browser.get(f"/design/draw/{name}/", {**usual, **asked}))
    assert said in page
    assert not re.search(r"\bnan\b", page.lower().replace("t1: nan", ""))


def test_an_empty_page_says_what_is_missing_and_an_unknown_one_is_nowhere(browser: Client) -> None:
    for name in ("allocate", "schedule", "simulate"):
        assert "Still to be given" in text_of(browser.get(f"/design/draw/{name}/"))
    assert browser.get("/design/draw/else/").status_code == 404
    assert browser.get("/design/schedule.ics").status_code == 422
    assert browser.get("/design/sheet.csv").status_code == 422


# ------------------------------------------------------------------------------------- schedules


def test_a_schedule_prints_its_cross_table_and_what_could_not_be_balanced(browser: Client) -> None:
    page = text_of(browser.get("/design/draw/schedule/", SCHEDULE))
    assert "20 sessions" in page
    assert "animal × position" in page
    assert "Animal and position, by weekday and time" in page
    assert "Mon 10:00 quiet" in page


def test_the_calendar_and_the_blank_sheet_are_of_the_schedule_that_is_shown(
    browser: Client,
) -> None:
    asked = {**SCHEDULE, "every_min": "10", "seed": ""}
    page = browser.get("/design/draw/schedule/", asked)
    sessions = page.context["drawn"].found.sessions
    told = browser.get(f"/design/schedule.ics?{page.context['query']}")
    events = Calendar.from_ical(told.content).walk("VEVENT")
    assert len(events) == len(sessions)
    assert str(events[0]["description"]) == " · ".join(sessions[0].order)
    assert events[0].decoded("dtstart") == sessions[0].begins.replace(
        tzinfo=timezone.get_current_timezone()
    )
    sheet = browser.get(f"/design/sheet.csv?{page.context['query']}").content.decode()
    lines = list(csv.DictReader(StringIO(sheet)))
    assert len(lines) == 20 * 3 * 3
    assert [one["animal"] for one in lines[:3]] == list(sessions[0].order)
    assert lines[0]["at"] == sessions[0].begins.isoformat(timespec="minutes")
    focal = browser.get("/design/sheet.csv", SCHEDULE).content.decode()
    assert len(focal.splitlines()) == 1 + 20 * 3


def test_a_schedule_leaves_free_what_is_on_at_its_enclosure(browser: Client) -> None:
    place, keeper = make_enclosure(), make_person(Role.KEEPER)
    first = timezone.localdate() + timedelta(days=7 - timezone.localdate().weekday())
    add_routine(
        place, sort="talk", weekdays=[1], begins=time(14), ends=time(14, 30), note="", by=keeper
    )
    begin_restriction(
        place,
        sort="medical",
        strength=Restriction.Strength.BARS_ALL,
        began_on=first - timedelta(days=10),
        expected_end_on=first + timedelta(days=1),
        by=keeper,
    )
    asked = {
        **SCHEDULE,
        "first": (first).isoformat(),
        "last": (first + timedelta(days=7)).isoformat(),
        "place": str(place.pk),
    }
    page = browser.get("/design/draw/schedule/", asked)
    told = text_of(page)
    assert "talk from 14:00 to 14:30" in told
    assert "out of bounds, medical" in told
    times = [one.begins for one in page.context["drawn"].found.sessions]
    assert all(one.date() != first for one in times)
    assert sum(one.weekday() == 0 for one in times) == 1
    # What leaves observation open bars nothing.
    calm = make_enclosure()
    begin_restriction(
        calm,
        sort="medical",
        strength=Restriction.Strength.OBSERVATION_ONLY,
        began_on=first,
        by=keeper,
    )
    assert busy_at(calm, first, first) == []


def test_a_routine_is_said_by_keepers_ended_and_shown_on_the_enclosures_page(
    browser: Client,
) -> None:
    place, keeper = make_enclosure(), make_person(Role.KEEPER)
    given: dict[str, Any] = {"sort": "feeding", "weekdays": [1, 3], "begins": time(9), "by": keeper}
    with pytest.raises(Unsound, match="end before it begins"):
        add_routine(place, ends=time(9), **given)
    add_routine(place, ends=time(9, 20), note="ray pool", **given)
    routines = list(Routine.objects.all())
    assert [one.weekday for one in routines] == [1, 3]
    assert Entry.objects.order_by("-number")[0].verb == "enclosure.add_routine"
    page = text_of(browser.get(place.get_absolute_url()))
    assert "feeding: ray pool" in page
    end_routine(place, routine=routines[0], by=keeper)
    with pytest.raises(Conflict):
        end_routine(place, routine=routines[0], by=keeper)
    with pytest.raises(Conflict):
        end_routine(make_enclosure(), routine=routines[1], by=keeper)
    routines[0].refresh_from_db()
    monday = timezone.localdate() + timedelta(days=7 - timezone.localdate().weekday())
    assert not routines[0].is_on(monday)
    assert routines[1].is_on(monday + timedelta(days=2))
    assert not routines[1].is_on(date(2020, 1, 1))


def test_what_is_on_is_asked_in_as_many_queries_however_much_there_is() -> None:
    place, keeper = make_enclosure(), make_person(Role.KEEPER)
    monday = timezone.localdate() + timedelta(days=7 - timezone.localdate().weekday())
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            found = busy_at(place, monday, monday + timedelta(days=27))
        counts.append((len(asked), len(found)))
        for hour in (9, 12, 15):
            hours = {"begins": time(hour), "ends": time(hour, 20)}
            add_routine(place, sort="cleaning", weekdays=range(1, 8), by=keeper, **hours)
    assert [one[0] for one in counts] == [3, 3]
    assert [one[1] for one in counts] == [0, 4 * 7 * 3]


# ------------------------------------------------------------------------------------- simulation


def test_a_simulation_says_power_and_type_one_with_their_error(browser: Client) -> None:
    # Tank-mean t, 4 tanks of 10, ICC 0.2, d = 1: .609 analytic (methods, from the noncentral t).
    asked = {
        "outcome": "measure", "means": "0, 1", "units": "4", "per_unit": "10", "sd": "1",
        "icc": "0.2", "analysis": "unit_t", "runs": "4000",
    }  # fmt: skip
    page = browser.get("/design/draw/simulate/", asked)
    found = page.context["drawn"].found
    assert abs(found.power.share - 0.609) < 4 * found.power.error
    assert "Without any effect" in text_of(page)
    naive = text_of(browser.get("/design/draw/simulate/", {**asked, "analysis": "animal_t"}))
    assert "Pseudoreplicated" in naive
