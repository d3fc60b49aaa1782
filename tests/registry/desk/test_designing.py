"""The design page and its API: three directions, refusals in words, and nothing written."""

import doctest
from dataclasses import fields
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from archive.columnar import make_columns
from registry import design
from registry.animals.models import Restriction
from registry.desk.designing import asking
from registry.desk.designing.asking import _ENUMS, SizeForm
from registry.desk.designing.bearing import bearing_of
from registry.desk.designing.forms import FORMS
from registry.desk.designing.shapes import AllocateSerializer, SimulateSerializer
from registry.ledger.models import Entry
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_enclosure, make_restriction, make_taxon
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import make_version, rows
from tests.worlds.kin import make_parent
from tests.worlds.oversight import make_enrolled
from tests.worlds.people import make_person
from tests.worlds.projects import make_project

pytestmark = pytest.mark.django_db

TANKS = {"design": "tanks", "sd": 1, "icc": 0.2, "per_unit": 15, "effect": 0.8, "power": 0.8}
FILLED: dict[str, dict[str, Any]] = {
    "tanks": TANKS,
    "eggs": {"baseline": 0.6, "icc": 0.1, "per_unit": 25, "effect": 0.2},
    "tank-events": {"baseline": 0.1, "watched": 100, "variation": 0.25, "effect": 0.5},
    "groups": {"sd": 1, "effect": 0.8},
    "several": {"groups": 3, "sd": 1, "effect": 1, "means": "EVEN"},
    "factorial": {"levels": "2, 2", "of": "1, 2", "sd": 1, "effect": 1},
    "ranks": {"sd": 1, "effect": 0.8},
    "pairs": {"sd": 1, "rho": 0.5, "effect": 0.5},
    "pairs-ranks": {"sd": 1, "effect": 0.5},
    "before-after": {"sd": 1, "rho": 0.5, "before": 1, "after": 2, "effect": 0.5},
    "slopes": {"sd": 1, "rho": 0.5, "times": "0, 7, 14", "effect": 0.05},
    "crossover": {"sd": 1, "rho": 0.5, "treatments": 3, "effect": 0.5, "carryover": "on"},
    "shares": {"baseline": 0.2, "effect": 0.5},
    "changes": {"discordant": 0.5, "effect": 0.4},
    "table": {"df": 1, "effect": 0.3},
    "events": {"baseline": 2, "exposure": 3, "effect": 1.5},
    "waiting": {"events": 0.8, "effect": 2, "rises": "fall"},
    "correlation": {"effect": 0.3},
    "one": {"sd": 1, "effect": 0.5},
}


@pytest.fixture
def supervisor() -> Person:
    return make_person(Role.SUPERVISOR)


@pytest.fixture
def browser(supervisor: Person) -> Client:
    found = Client()
    found.force_login(supervisor)
    return found


@pytest.fixture
def caller(supervisor: Person) -> APIClient:
    found = APIClient()
    found.force_authenticate(supervisor)
    return found


def text_of(answer: Any) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.mark.parametrize("kind", FORMS)
def test_every_design_answers_on_the_page_and_in_the_api(
    kind: str, browser: Client, caller: APIClient
) -> None:
    asked = {"power": 0.8, **FILLED[kind], "design": kind}
    page = text_of(browser.get("/design/", asked))
    told = caller.post("/api/v1/design/size/", asked, format="json")
    assert told.status_code == 200, told.data
    assert told.data["asked"] == "n"
    assert told.data["said"] in page.replace("&#x27;", "'")
    assert "What is assumed" in page
    assert "<svg" in page
    assert "What would change this answer" in page or not told.data["sensitivity"]
    fragment = text_of(browser.get("/design/answer/", asked))
    assert told.data["said"] in fragment.replace("&#x27;", "'")
    assert "<html" not in fragment


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_asks_what_its_design_takes(kind: str) -> None:
    form = FORMS[kind]
    wanted = {one.name for one in fields(getattr(design, form.design))}
    asked = set(form.base_fields) - (set(SizeForm.always) - {"alpha", "sides"})
    # What is left out of a form has a usual value.
    needed = {
        one.name
        for one in fields(getattr(design, form.design))
        if one.default.__class__.__name__ == "_MISSING_TYPE"
    }
    assert needed <= asked <= wanted
    for name in set(_ENUMS) & asked:
        choices = {value for value, _ in form.base_fields[name].choices}
        assert choices == set(getattr(design, _ENUMS[name]).__members__)


def test_the_api_names_every_member_that_it_offers() -> None:
    for name, enum in (("analysis", design.Analysis), ("outcome", design.Outcome)):
        choices = SimulateSerializer().fields[name].choices
        assert {one.upper() for one in choices} == set(enum.__members__)
    assert set(AllocateSerializer().fields["method"].choices) == set(design.METHODS)


def test_three_directions_are_asked_by_leaving_one_out(caller: APIClient) -> None:
    known = {key: TANKS[key] for key in ("design", "sd", "icc", "per_unit")}
    by_n = caller.post("/api/v1/design/size/", {**known, "n": 4, "effect": 1}, format="json")
    assert by_n.data["asked"] == "power"
    least = caller.post("/api/v1/design/size/", {**known, "n": 8, "power": 0.8}, format="json")
    assert least.data["asked"] == "effect"
    assert least.data["effect"] < 0.8
    both = caller.post("/api/v1/design/size/", {**TANKS, "n": 8}, format="json")
    assert both.status_code == 422
    assert "Leave out exactly one" in both.data["next"]


def test_what_is_missing_is_said_and_what_is_wrong_is_refused(browser: Client) -> None:
    assert "What is compared" not in text_of(browser.get("/design/?design=tanks"))
    blank = text_of(browser.get("/design/?design=tanks"))
    assert "Still to be given" in blank
    assert "ICC" in blank
    half = text_of(browser.get("/design/answer/?design=groups&sd=1&power=0.8"))
    assert "Give one of these: Smallest effect that would matter, Units in each arm" in half
    wrong = text_of(browser.get("/design/answer/?design=groups&sd=abc&effect=1&power=0.8"))
    assert "There is no answer to this yet" in wrong
    for asked, said in (
        ("sd=0&effect=1&power=0.8", "The standard deviation must be above 0."),
        ("sd=1&effect=0&power=0.8", "An effect of 0 cannot be planned for."),
        ("sd=1&effect=1&power=1.5", "The power must be above 0 and below 1."),
        ("sd=1&effect=9&power=0.8", "fewer than 2"),
        ("sd=nan&effect=9&power=0.8", "There is no answer"),
        ("sd=1e999&effect=9&power=0.8", "There is no answer"),
        ("sd=1&effect=1e30&power=0.8", "can be planned with"),
        ("sd=1&n=20&effect=1&power=0.8", "is found in 86.9 of 100 such studies"),
        ("sd=1&n=1&power=0.8", "cannot tell the treatment from the unit"),
    ):
        page = text_of(browser.get(f"/design/?design=groups&{asked}"))
        assert said in page, asked
        assert "nan" not in page.split("What next")[-1][:200].lower()
    assert "What is compared" in text_of(browser.get("/design/?design=before-after"))
    assert "Then: what is compared?" in text_of(browser.get("/design/?design=nothing"))
    text_of(browser.get("/design/answer/?design=nothing"))


def test_one_animal_is_told_the_smallest_p(browser: Client, caller: APIClient) -> None:
    asked = {"design": "one-animal", "sessions": 20, "phases": "AB", "shortest": 5}
    page = text_of(browser.get("/design/", asked))
    assert "smallest p 0.0909: above 0.05" in page
    told = caller.post("/api/v1/design/size/", asked, format="json").data
    assert (told["assignments"], told["is_confirmatory"]) == (11, False)
    few = caller.post("/api/v1/design/size/", {**asked, "sessions": 8}, format="json")
    assert (few.status_code, set(few.data["fields"])) == (422, {"sessions"})


def test_the_collection_says_what_it_can_bear(browser: Client, supervisor: Person) -> None:
    curator = make_person(Role.CURATOR)
    taxon = make_taxon(by=curator)
    place = make_enclosure(by=curator)
    animals = [make_animal(by=curator, taxon=taxon, enclosure=place) for _ in range(5)]
    today = timezone.localdate()
    make_restriction(animals[0], by=curator)
    make_restriction(animals[1], by=curator, strength=Restriction.Strength.OBSERVATION_ONLY)
    found = bearing_of(taxon, today, today + timedelta(days=9))
    assert (found.kept, found.barred, found.in_use, found.free) == (5, 1, 0, 4)
    assert found.enclosures == 1
    assert found.alike == pytest.approx(4)
    asked = {"design": "groups", "sd": 1, "effect": 1.2, "power": 0.8, "taxon": taxon.pk}
    page = text_of(browser.get("/design/", asked))
    assert "On those days 5 are kept: 1 out of bounds" in page
    assert "You need 24, and can have 4." in page
    assert "pool 6 cohorts" in page


def test_six_full_sibs_are_offered_as_the_three_that_they_are_worth(browser: Client) -> None:
    """n / (1 + (n - 1) 2 K h2) by hand: six full sibs at .4 are worth 3; Kish (1965), 5.4."""
    taxon, place = make_taxon(), make_enclosure()
    other = make_taxon("Raja clavata")
    sire, dam = (make_animal(sex=sex, taxon=other) for sex in ("male", "female"))
    for _ in range(6):
        one = make_animal(taxon=taxon, enclosure=place)
        make_parent(one, "sire", sire)
        make_parent(one, "dam", dam)
    today = timezone.localdate()
    assert bearing_of(taxon, today, today, inherited=0.4).worth == 3
    assert bearing_of(taxon, today, today, inherited=0).worth == 6
    asked = {"design": "groups", "sd": 1, "effect": 1.2, "power": 0.8, "taxon": taxon.pk}
    page = text_of(browser.get("/design/", asked))
    assert "Related as they are, they count as 3 unrelated ones" in page
    assert "pool 8 cohorts" in page
    wrong = text_of(browser.get("/design/", {**asked, "inherited": "40"}))
    assert "A share lies between 0 and 1" in wrong


def test_what_approvals_leave_is_counted_for_a_project_whose_plan_one_may_read() -> None:
    world = make_collecting()
    line = world.approval.limits.get()
    today = timezone.localdate()
    for _ in range(line.max_animals + 3):
        make_animal(taxon=world.taxon)
    before = bearing_of(world.taxon, today, today, world.project)
    assert before.approved == line.max_animals
    assert before.free == line.max_animals
    make_enrolled(world, 2)
    after = bearing_of(world.taxon, today, today, world.project)
    assert after.approved == line.max_animals - 2
    far = today + timedelta(days=4000)
    assert bearing_of(world.taxon, far, far, world.project).approved == 0
    assert bearing_of(world.taxon, today, today, make_project()).approved is None
    asked = {
        "design": "groups", "sd": 1, "effect": 1.2, "power": 0.8,
        "taxon": world.taxon.pk, "project": world.project.pk,
    }  # fmt: skip
    browser = Client()
    browser.force_login(world.lead)
    page = text_of(browser.get("/design/", asked))
    assert f"Approvals of this project leave {line.max_animals - 2}." in page
    browser.force_login(make_person(Role.STUDENT))
    assert "There is no answer to this yet" in text_of(browser.get("/design/", asked))


def test_an_allocation_is_drawn_again_from_its_seed(caller: APIClient) -> None:
    asked = {
        "method": "complete",
        "arms": ["still", "brisk"],
        "units": [f"T{n:02}" for n in range(1, 13)],
        "seed": bytes(range(32)).hex(),
        "codes": True,
    }
    one, other = (caller.post("/api/v1/design/allocate/", asked, format="json") for _ in "ab")
    assert one.status_code == 200
    assert one.data == other.data
    assert one.data["counts"] == {"brisk": 6, "still": 6}
    assert len({place["code"] for place in one.data["places"]}) == 12
    del asked["seed"]
    drawn = [caller.post("/api/v1/design/allocate/", asked, format="json").data for _ in "ab"]
    assert drawn[0]["seed"] != drawn[1]["seed"]
    again = caller.post(
        "/api/v1/design/allocate/", {**asked, "seed": drawn[0]["seed"]}, format="json"
    )
    assert again.data["digest"] == drawn[0]["digest"]


@pytest.mark.parametrize(
    "more",
    [
        {"method": "blocked", "blocks": {"top": ["a", "b"], "low": ["c", "d"]}},
        {"method": "stratified", "blocks": {"m": ["a", "b"], "f": ["c", "d"]}},
        {"method": "permuted", "units": list("abcdefgh"), "sizes": [2, 4]},
        {"method": "latin", "rows": ["top", "low"], "columns": ["Mon", "Tue"]},
        {"method": "crossover", "units": list("abcd")},
        {"method": "phases", "units": ["a", "b"], "sessions": 16, "shortest": 2},
        {
            "method": "minimised",
            "levels": {one: {"sex": "m" if one < "c" else "f"} for one in "abcd"},
        },
        {"method": "rerandomised", "covariates": {one: [ord(one)] for one in "abcdefghijkl"}},
    ],
)
def test_every_way_to_allocate_is_offered(caller: APIClient, more: dict[str, Any]) -> None:
    asked = {"arms": ["still", "brisk"], **more}
    told = caller.post("/api/v1/design/allocate/", asked, format="json")
    assert told.status_code == 200, told.data
    assert sum(told.data["counts"].values()) == len(told.data["places"])
    bare = caller.post(
        "/api/v1/design/allocate/", {"method": more["method"], "arms": ["x", "y"]}, format="json"
    )
    assert bare.status_code == 422
    assert "This method needs" in bare.data["what"]


def test_a_schedule_is_drawn_and_judged(caller: APIClient) -> None:
    asked = {
        "animals": ["Moss", "Fern"],
        "days": ["2026-05-04", "2026-05-05"],
        "slots": [{"start": "10:00", "crowding": "quiet"}, {"start": "14:00"}],
        "busy": [
            {"begins": "2026-05-04T14:10:00", "ends": "2026-05-04T14:20:00", "what": "feeding"}
        ],
        "seed": "00" * 32,
    }
    told = caller.post("/api/v1/design/schedule/", asked, format="json")
    assert told.status_code == 200, told.data
    assert len(told.data["sessions"]) == 3
    assert "feeding" in told.data["left_out"][0]
    assert any("animal × position" in said for said in told.data["balance"])
    twice = caller.post(
        "/api/v1/design/schedule/", {**asked, "days": ["2026-05-04"] * 2}, format="json"
    )
    assert (twice.status_code, set(twice.data["fields"])) == (422, {"days"})
    much = {**asked, "animals": [f"a{n}" for n in range(60)]}
    much["days"] = [str(date(2026, 1, 1) + timedelta(days=n)) for n in range(200)]
    assert caller.post("/api/v1/design/schedule/", much, format="json").status_code == 400


def test_a_study_is_simulated(caller: APIClient) -> None:
    asked = {
        "means": [0, 1],
        "units": 4,
        "per_unit": 10,
        "icc": 0.2,
        "analysis": "unit_t",
        "runs": 2000,
        "seed": 7,
    }
    told = caller.post("/api/v1/design/simulate/", asked, format="json")
    assert told.status_code == 200, told.data
    assert told.data["power"]["share"] == pytest.approx(0.609, abs=0.05)
    assert told.data["type_one"]["share"] == pytest.approx(0.05, abs=0.02)
    wrong = caller.post(
        "/api/v1/design/simulate/", {**asked, "analysis": "animal_t"}, format="json"
    )
    assert wrong.data["cautions"][0]["word"] == "pseudoreplicated"
    much = {**asked, "runs": 100_000, "per_unit": 10_000}
    refused = caller.post("/api/v1/design/simulate/", much, format="json")
    assert (refused.status_code, set(refused.data["fields"])) == (422, {"runs"})


RAYS = rows(
    *(f"{n},R-0{n % 4},2026-05-0{1 + n % 9},REST,{n % 4 + n % 3 / 4}" for n in range(1, 41))
)


def test_an_earlier_cohort_lends_its_spread_and_its_identifier(
    browser: Client,
) -> None:
    version = make_version({"scans.csv": RAYS})
    blank = text_of(browser.get("/design/spread/", {"version": version.pk}))
    assert "depth (scans)" in blank
    assert "seen_on (scans)" not in blank.split("Tank or animal")[0].split("Outcome")[-1]
    asked = {
        "version": version.pk,
        "outcome": "data/scans.csv#depth",
        "unit": "data/scans.csv#ray",
        "arm": "",
    }
    page = text_of(browser.get("/design/spread/", asked))
    depths = [n % 4 + n % 3 / 4 for n in range(1, 41)]
    found = design.estimate(depths, [n % 4 for n in range(1, 41)])
    assert f"Standard deviation {found.sd:.3f}, ICC {found.icc:.2f}" in page
    assert "40 values in 4 units" in page
    assert version.identifier in page
    link = next(one for one in page.split('"') if "design=tanks" in one).replace("&amp;", "&")
    begun = text_of(browser.get(link))
    assert f'value="{found.sd:.4g}"' in begun
    answered = text_of(browser.get(f"{link}&effect=2"))
    assert f"The spread is from {version.identifier}." in answered
    same = text_of(browser.get("/design/spread/", {**asked, "unit": "data/scans.csv#scan"}))
    assert "cannot both be estimated" in same
    make_columns(version)  # from the typed copy it is read as from the table
    typed = text_of(browser.get("/design/spread/", asked))
    assert f"Standard deviation {found.sd:.3f}, ICC {found.icc:.2f}" in typed
    assert "40 values in 4 units" in typed


def test_a_version_that_is_not_open_lends_nothing(browser: Client) -> None:
    closed = make_version(
        {"scans.csv": RAYS}, access="restricted", terms={"restricted_because": "A rare species."}
    )
    page = text_of(browser.get("/design/spread/", {"version": closed.pk}))
    assert "depth (scans)" not in page
    assert closed.dataset.title not in page
    text_of(browser.get("/design/spread/", {"version": "x" * 50}))
    text_of(browser.get("/design/spread/", {"version": "9" * 50}))


def test_nothing_is_asked_by_a_visitor_and_nothing_is_written(
    browser: Client, caller: APIClient
) -> None:
    assert Client().get("/design/").status_code == 302
    assert Client().get("/design/answer/").status_code == 302
    assert Client().get("/design/spread/").status_code == 302
    for name in ("size", "allocate", "schedule", "simulate"):
        address = f"/api/v1/design/{name}/"
        assert APIClient().post(address, {}, format="json").status_code == 401
        assert caller.get(address).status_code == 405
        assert caller.post(address, {}, format="json").status_code in {400, 422}
        assert caller.post(address, [1], format="json").status_code == 400
    before = Entry.objects.count()
    browser.get("/design/", TANKS)
    caller.post("/api/v1/design/size/", TANKS, format="json")
    assert Entry.objects.count() == before


def test_an_answer_costs_no_more_queries_than_the_page_around_it(
    browser: Client, django_assert_max_num_queries: Any
) -> None:
    browser.get("/design/", TANKS)
    with django_assert_max_num_queries(8):
        browser.get("/design/answer/", TANKS)


def test_the_examples_run() -> None:
    assert doctest.testmod(asking).failed == 0
