"""Analyses: asked, computed, run again, stale; who may see them, and what bad input gets."""

import contextlib
import io
import json
import urllib.request
from itertools import product
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.utils import timezone

from archive import actions, analysing
from archive.actions import withdraw_version
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.offered import KINDS
from archive.models import Analysis, Version
from registry.errors import Conflict, NotPermitted, Unseen, Unsound
from registry.ledger.models import Entry
from registry.people.models import Person
from registry.permissions import Role, Verb, may
from registry.projects.models import Plan
from tests.worlds.archive import (
    compute_here,
    lay_columns,
    make_analysis,
    make_asked_analysis,
    make_version,
)
from tests.worlds.people import make_person
from tests.worlds.projects import student_of

pytestmark = pytest.mark.django_db

COLUMNS = {"animal": "ray", "behaviour": "posture", "session": "seen_on"}


def browser_of(person: Person) -> Client:
    browser = Client()
    browser.force_login(person)
    return browser


def test_an_analysis_keeps_what_its_numbers_follow_from_and_gives_them_again() -> None:
    analysis = make_analysis()
    assert (analysis.state, analysis.is_planned) == ("computed", False)
    assert (analysis.code, analysis.request["seed"]) == (analysing.code_digest(), 1)
    table = {row[0]: row[1] for row in analysis.result["tables"][0]["rows"]}
    # Two rays, four scans: the one always rests, the other always swims.
    assert table == {"REST": 0.5, "SWIM": 0.5}
    assert analysis.digest in Entry.objects.filter(verb=Verb.ANALYSIS_COMPUTE).get().text
    # Run again it gives the same.
    again = compute_here(analysing.repeat(analysis, by=analysis.asked_by))
    assert (again.state, again.is_confirmed) == ("computed", True)
    assert again.result == analysis.result
    # Its figures are files.
    browser = browser_of(analysis.asked_by)
    for form, begins in (("svg", b"<svg xmlns"), ("pdf", b"%PDF"), ("png", b"\x89PNG")):
        answer = browser.get(f"/archive/analyses/{analysis.pk}/figures/budget.{form}")
        assert answer.content.startswith(begins)
    assert browser.get(f"/archive/analyses/{analysis.pk}/figures/budget.gif").status_code == 404
    # It is out of date once its version is withdrawn, and is not run again.
    steward = make_person(Role.STEWARD)
    withdraw_version(analysis.version, ground="faulty", reason="A scale was off.", by=steward)
    analysis = Analysis.objects.get(pk=analysis.pk)
    assert analysis.is_stale
    with pytest.raises(Conflict, match="No longer held"):
        actions.repeat_analysis(analysis, by=analysis.asked_by)
    assert "out of date" in browser.get(analysis.get_absolute_url()).content.decode()


def test_whoever_may_not_read_the_data_sees_no_analysis_of_them() -> None:
    open_one = make_analysis()
    closed = make_analysis(make_version(access="restricted", terms={"restricted_because": "Why"}))
    keeper = make_person(Role.KEEPER)
    assert may(keeper, Verb.ANALYSIS_SEE, open_one)
    assert not may(keeper, Verb.ANALYSIS_SEE, closed)
    assert may(make_person(Role.STEWARD), Verb.ANALYSIS_SEE, closed)
    with pytest.raises((NotPermitted, Unseen)):
        make_asked_analysis(closed.version, by=keeper)
    assert browser_of(keeper).get(closed.get_absolute_url()).status_code == 404
    # Cohorts are put together within one study, of what one may read.
    columns = {"outcome": "depth", "unit": "ray", "treatment": "posture"}
    request = Request("cohorts", "scans", columns)
    others = [closed.version]
    with pytest.raises(NotPermitted, match="may not read"):
        make_asked_analysis(open_one.version, request=request, others=others)
    with pytest.raises(Unsound, match="one study"):
        make_asked_analysis(
            open_one.version, request=request, others=others, by=make_person(Role.STEWARD)
        )


def test_bad_input_gets_a_sentence_and_the_rest_is_computed() -> None:
    version = make_version()
    for columns, said in (
        ({**COLUMNS, "behaviour": "mood"}, "no column “mood”"),
        ({"behaviour": "posture"}, "needs a column for “animal”"),
    ):
        with pytest.raises(Unsound, match=said):
            make_asked_analysis(version, request=Request("budget", "scans", columns))
    wrong = Request("comparison", "scans", {"outcome": "posture", "unit": "ray"})
    with pytest.raises(Unsound, match="of type string"):
        make_asked_analysis(version, request=wrong)
    # Each posture has but one ray: no test, but the means.
    columns = {"outcome": "depth", "unit": "ray", "treatment": "posture"}
    found = make_analysis(version, request=Request("comparison", "scans", columns))
    assert [one["name"] for one in found.result["tables"]] == ["arms", "units"]
    assert found.result["tests"] == []
    assert "fewer than two units" in json.dumps(found.result["gaps"])
    # No arm at all: nothing is left, and the page says why.
    columns = {"outcome": "depth", "unit": "ray"}
    nothing = make_analysis(version, request=Request("comparison", "scans", columns))
    assert nothing.state == "refused"
    page = browser_of(nothing.asked_by).get(nothing.get_absolute_url()).content.decode()
    assert "The table names no treatment" in page


def test_planned_is_what_a_person_and_the_plans_own_sum_say() -> None:
    analysis = make_asked_analysis(is_planned=True)
    assert analysing.standing_of(analysis, {"choice": None})[0] is True
    analysis.facts["planned_tests"] = ["unit_t"]
    assert analysing.standing_of(analysis, {"choice": {"test": "rank_sum"}})[0] is False
    assert analysing.standing_of(analysis, {"choice": {"test": "unit_t"}})[0] is True
    # What a worker left is queued again.
    assert analysing.take_up_again() == 0
    Analysis.objects.filter(pk=analysis.pk).update(asked_at=timezone.now() - 2 * analysing.DEAD)
    assert [analysing.take_up_again() for _ in range(2)] == [1, 0]


def test_it_is_asked_on_pages_and_the_form_is_filled_from_the_dictionary() -> None:
    version = make_version()
    browser = browser_of(student_of(version.dataset.project))
    address = f"/archive/versions/{version.pk}/analyse/"
    page = browser.get(address).content.decode()
    # What the plan's own rule of recording gives stands first, then all by the question.
    in_order = ("What the plan points to", "Time budget", "What do the animals do?", "Condition")
    assert sorted(in_order, key=page.index) == list(in_order)
    page = browser.get(address, {"sort": "budget", "table": "scans"}).content.decode()
    assert '<option value="posture" selected>' in page
    sent = {
        "sort": "budget",
        "table": "scans",
        "title": "What rays do",
        "on_animal": "ray",
        "on_behaviour": "posture",
    }
    answer = browser.post(address, sent)
    made = Analysis.objects.get()
    assert answer.headers["Location"] == made.get_absolute_url()
    lay_columns(version)
    compute_here(made)
    page = browser.get(made.get_absolute_url()).content.decode()
    assert "Share of visible points" in page
    assert "<svg" in page
    assert "What rays do" in browser.get(version.get_absolute_url()).content.decode()
    # Zones with their places are drawn where they lie; a line that gives no size is told.
    sent = {"sort": "space", "table": "scans", "title": "Where rays are", "on_animal": "ray",
            "on_zone": "posture", "areas": "REST = 2 x 1 at 0, 0\nSWIM = broad"}  # fmt: skip
    assert "Line 2: write a zone" in browser.post(address, sent).content.decode()
    browser.post(address, {**sent, "areas": "REST = 2 x 1 at 0, 0\nSWIM = 1 x 1 at 2, 0"})
    made = compute_here(Analysis.objects.get(sort="space"))
    assert made.request["options"]["areas"] == {"REST": 2, "SWIM": 1}
    page = browser.get(made.get_absolute_url()).content.decode()
    assert "zones where they lie" in page
    assert "/figures/plan.svg" in page
    # Another kind asks for what it needs and for nothing else.
    page = browser.get(address, {"sort": "sequence", "table": "scans"}).content.decode()
    assert "May a behaviour follow itself?" in page
    assert "Sizes of the zones" not in page
    sent = {"sort": "sequence", "table": "scans", "title": "What follows", "on_animal": "ray",
            "on_behaviour": "posture"}  # fmt: skip
    browser.post(address, sent | {"repeats": "no", "on_session": "seen_on"})
    made = Analysis.objects.get(sort="sequence")
    assert made.request["options"] == {"repeats": False}
    assert made.facts["acts"] == [["REST", "state", "posture"], ["SWIM", "state", "posture"]]
    # Each ray does one thing alone: nothing follows anything, and the page says so.
    compute_here(made)
    page = browser.get(made.get_absolute_url()).content.decode()
    assert "No transitions can be judged" in page


EVERY: dict[str, tuple[dict[str, str], dict[str, str]]] = {
    "budget": ({"animal": "crab", "behaviour": "did", "session": "visit"}, {}),
    "one_zero": ({"animal": "crab", "behaviour": "did", "interval": "part"}, {}),
    "bouts": (
        {"animal": "crab", "behaviour": "did", "session": "visit", "begin": "from_s",
         "end": "to_s"},
        {"minutes": "3"},
    ),
    "sequence": ({"animal": "crab", "behaviour": "did", "session": "visit", "begin": "from_s"},
                 {"repeats": "yes"}),
    "space": ({"animal": "crab", "zone": "did"}, {"areas": "walk = 2\nhide = 1"}),
    "comparison": ({"outcome": "mass", "unit": "crab", "treatment": "flow"}, {"test": "welch_t"}),
    "reversal": ({"outcome": "mass", "animal": "crab", "phase": "film", "order": "n"},
                 {"shortest": "2", "reference": "off"}),
    "along": ({"covariate": "db", "animal": "crab", "session": "visit", "behaviour": "did"},
              {"target": "hide", "sound": "air"}),
    "growth": ({"mass": "mass", "time": "day", "unit": "crab", "treatment": "flow"}, {}),
    "condition": ({"mass": "mass", "length": "cm", "unit": "crab", "treatment": "flow"}, {}),
    "feeding": ({"feed": "fed", "gain": "cm", "unit": "crab", "treatment": "flow"}, {}),
    "hatching": ({"fertile": "eggs", "hatched": "out", "unit": "crab", "treatment": "flow"}, {}),
    "survival": ({"time": "fed", "unit": "crab", "treatment": "flow"}, {}),
    "warmth": ({"lowest": "warm", "time": "day", "unit": "crab"}, {"base": "9"}),
    "rates": ({"rate": "mass", "temperature": "warm", "unit": "crab"}, {}),
    "response": ({"dose": "warm", "responded": "out", "of": "eggs", "unit": "crab"},
                 {"scale": "plain"}),
    "agreement": ({"moment": "visit", "observer": "crab", "behaviour": "did"},
                  {"ranked": "hide, walk"}),
    "measured": ({"moment": "part", "observer": "crab", "outcome": "mass"}, {}),
    "interval": (
        {"animal": "crab", "behaviour": "did", "session": "visit", "begin": "from_s",
         "end": "to_s"},
        {"every": "5, 40", "target": "hide"},
    ),
    "cohorts": ({"outcome": "mass", "unit": "crab", "treatment": "flow"}, {}),
}  # fmt: skip
"""What each kind is asked of one wide table, as the API takes it."""


def wide_version() -> Version:
    """Give a version of one table that has a column for everything."""
    types = {"n": "integer", "visit": "string", "part": "string", "day": "date", "crab": "string",
             "did": "string", "flow": "string", "film": "string", "eggs": "integer",
             "out": "integer"}  # fmt: skip
    head = ["n", "crab", "visit", "part", "did", "from_s", "to_s", "db", "flow", "film", "mass",
            "cm", "fed", "eggs", "out", "day", "warm"]  # fmt: skip
    lines = [
        [n, "PQRS"[c], f"v{v}", f"p{v}{k}", ("walk", "hide")[(k + c * v) % 2], 60 * k,
         60 * k + 40 + c, 50 + 3 * v + c, ("brisk", "still")[c % 2], ("off", "on")[v % 2],
         9 + v + 0.3 * c + k * c % 2, 4 + v + 0.1 * c, 20 + n % 7, 20,
         4 + 2 * v + c + (n * n) % 3, f"2026-0{1 + v}-0{1 + k}", 8 + 2 * v + k]
        for n, (c, v, k) in enumerate(product(range(4), range(4), range(2)))
    ]  # fmt: skip
    fields = [{"name": one, "type": types.get(one, "number")} for one in head]
    resource = {"name": "wide", "path": "wide.csv", "type": "table", "schema": {"fields": fields}}
    package = {"name": "wide", "resources": [resource]}
    text = "\n".join(",".join(map(str, line)) for line in [head, *lines]) + "\n"
    files = {"datapackage.json": json.dumps(package).encode(), "wide.csv": text.encode()}
    return make_version(files, dictionary=False)


def made_again(browser: Client, analysis: Analysis, patch: pytest.MonkeyPatch) -> str:
    """Run the program that is handed over; it reads the package by the site's own addresses."""

    def opened(asked: urllib.request.Request) -> io.BytesIO:
        answer = browser.get(urlsplit(asked.full_url).path)
        assert answer.status_code == 200, asked.full_url
        whole = getattr(answer, "streaming_content", None) or [answer.content]
        return io.BytesIO(b"".join(whole))  # type: ignore[arg-type]  # why: it is no async one

    patch.setattr(urllib.request, "urlopen", opened)
    text = browser.get(f"{analysis.get_absolute_url()}analysis.py").content.decode()
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        exec(compile(text, "handed.py", "exec"), {"__name__": "handed"})
    return said.getvalue()


def test_every_kind_is_asked_over_the_api_computed_shown_and_made_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    version = wide_version()
    browser = browser_of(student_of(version.dataset.project))
    lay_columns(version)
    assert set(EVERY) == set(KINDS)
    plan = Plan.objects.filter(project=version.dataset.project)
    rules = {"one_zero": "one_zero", "bouts": "continuous", "interval": "continuous"}
    for kind, (columns, more) in EVERY.items():
        plan.update(sampling_rule="focal", recording_rule=rules.get(kind, "instantaneous"))
        sent = {"sort": kind, "table": "wide", "title": f"On {kind}", "columns": columns, **more}
        answer = browser.post(
            f"/api/v1/versions/{version.pk}/analyse/", sent, content_type="application/json"
        )
        assert answer.status_code in {200, 201}, (kind, answer.content)
        made = compute_here(Analysis.objects.get(sort=kind))
        page = browser.get(made.get_absolute_url()).content.decode()
        said = made_again(browser, made, monkeypatch)
        assert " 0 are not; 0 were not made again here." in said, (kind, said)
        if kind == "cohorts":
            # One cohort alone: what it found still stands.
            assert "cohort" in json.dumps(made.result["gaps"])
            continue
        assert made.state == "computed", (kind, made.refusal)
        assert made.result["said"], kind
        assert "For the methods chapter" in page
