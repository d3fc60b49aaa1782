"""The sessions of the day, entered beside the tank, and their blank sheets."""

import csv
import io
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from archive.actions import submit_deposit
from registry.animals.actions import mark_animal
from registry.desk.sessions import sessions_of
from registry.oversight.models import Session
from registry.permissions import Role
from registry.projects.actions import halt_project
from registry.projects.models import Plan
from tests.worlds.animals import make_restriction
from tests.worlds.approvals import World, make_collecting
from tests.worlds.archive import check_here, make_dictionary, make_opened, put
from tests.worlds.oversight import make_enrolled, make_planned_session
from tests.worlds.people import fresh, make_person

pytestmark = pytest.mark.django_db


@pytest.fixture
def world() -> World:
    return make_collecting()


def noon() -> Any:
    return timezone.localtime().replace(hour=12, minute=0, second=0, microsecond=0)


def card_of(world: World, session: Session) -> Any:
    found = sessions_of(fresh(world.student), timezone.localdate())
    return next(one for one in found.today if one.session == session)


def test_a_student_sees_time_place_animals_with_marks_and_what_was_checked(
    client: Client, world: World
) -> None:
    enrolled = make_enrolled(world, 2)
    animal = enrolled[0].animal
    mark_animal(animal, sort="natural", said="A notch in the left fin", by=world.curator)
    session = make_planned_session(world, enrolled, start=noon())
    client.force_login(world.student)
    page = client.get("/sessions/").content.decode()
    for said in ("12:00 to 12:30", str(world.place), "A notch in the left fin", enrolled[1].code):
        assert said in page
    assert animal.get_absolute_url() in page
    assert str(world.procedure) in page
    assert "every needed permission is live today" in page
    assert f"/oversight/sessions/{session.pk}/hold/" in page
    assert "do not begin" not in page


def test_what_forbids_to_begin_stands_first(client: Client, world: World) -> None:
    enrolled = make_enrolled(world, 2)
    session = make_planned_session(world, enrolled, start=noon())
    assert card_of(world, session).stops == []
    make_restriction(enrolled[0].animal)
    make_restriction(world.place)
    stops = card_of(world, session).stops
    assert len(stops) == 2
    assert any(str(enrolled[0].animal) in said for said in stops)
    halt_project(world.project, reason="Two do not feed.", by=make_person(Role.KEEPER))
    assert "halted" in card_of(world, session).stops[0]
    client.force_login(world.student)
    assert "CAUTION: do not begin" in client.get("/sessions/").content.decode()


def test_a_permission_that_is_not_live_today_is_named(world: World) -> None:
    session = make_planned_session(world, make_enrolled(world, 1), start=noon())
    after = world.approval.ends_on + timedelta(days=1)
    assert card_of(world, session).lacking == []
    Session.objects.filter(pk=session.pk).update(
        planned_start=noon() + (after - timezone.localdate()),
        planned_end=noon() + (after - timezone.localdate()) + timedelta(hours=1),
    )
    with time_machine.travel(noon() + (after - timezone.localdate()), tick=False):
        assert card_of(world, session).lacking


def test_the_form_of_the_card_enters_the_session_and_the_other_says_why_it_was_missed(
    client: Client, world: World
) -> None:
    enrolled = make_enrolled(world, 2)
    held, missed = (make_planned_session(world, enrolled, start=noon()) for _ in range(2))
    client.force_login(world.student)
    with time_machine.travel(noon() + timedelta(hours=1), tick=False):
        form = card_of(world, held).held
        sent = {
            "started_at": form["started_at"].value().strftime("%Y-%m-%dT%H:%M"),
            "ended_at": (noon() + timedelta(minutes=25)).strftime("%Y-%m-%dT%H:%M"),
            "procedure": world.procedure.pk,
            "enrolments": [enrolled[0].pk],
            "notes": "One slept.",
        }
        answer = client.post(f"/oversight/sessions/{held.pk}/hold/", sent)
        assert answer.status_code == 302
        page = client.get(answer["Location"]).content.decode()
        assert "The session was entered as held." in page
        client.post(f"/oversight/sessions/{missed.pk}/miss/", {"reason": "The pool was shut."})
    held.refresh_from_db()
    missed.refresh_from_db()
    assert (held.state, held.started_at, held.uses.count()) == ("held", noon(), 1)
    assert (missed.state, missed.missing_reason) == ("missed", "The pool was shut.")


def test_the_beginning_is_guessed_only_while_the_session_is_held(world: World) -> None:
    session = make_planned_session(world, make_enrolled(world, 1), start=noon())
    with time_machine.travel(noon() + timedelta(minutes=40), tick=False):
        form = card_of(world, session).held
        assert form["started_at"].value() == noon().replace(tzinfo=None)
        assert form["ended_at"].value() is None
    with time_machine.travel(noon() + timedelta(hours=8), tick=False):
        assert card_of(world, session).held["started_at"].value() is None


def test_a_late_session_waits_for_its_members_and_nobody_else(world: World) -> None:
    session = make_planned_session(world, make_enrolled(world, 1), start=noon())
    with time_machine.travel(noon() + timedelta(days=2), tick=False):
        today = timezone.localdate()
        (late,) = sessions_of(fresh(world.student), today).late
        assert late.session == session
        assert sessions_of(world.curator, today).late == []


def test_who_only_watches_the_house_sees_the_session_and_no_form(
    client: Client, world: World
) -> None:
    session = make_planned_session(world, make_enrolled(world, 1), start=noon())
    client.force_login(world.curator)
    page = client.get("/sessions/").content.decode()
    assert session.code in page
    assert "Enter it as held" not in page
    client.force_login(make_person(Role.STUDENT))
    assert session.code not in client.get("/sessions/").content.decode()
    assert client.get(f"/sessions/{session.pk}/sheet/").status_code == 404
    assert client.get(f"/sessions/{session.pk}/sheet/scans.csv").status_code == 404


def test_the_page_costs_the_same_queries_at_three_sessions_and_at_twelve(
    client: Client, world: World
) -> None:
    enrolled = make_enrolled(world, 3)
    make_dictionary(world.project.study)
    client.force_login(world.student)

    def grow(n: int) -> int:
        for nth in range(n):
            make_planned_session(world, enrolled, start=noon() + timedelta(minutes=nth))
            make_planned_session(world, enrolled, start=noon() + timedelta(days=1, minutes=nth))
        client.get("/sessions/")
        with CaptureQueriesContext(connection) as caught:
            assert client.get("/sessions/").status_code == 200
        return len(caught)

    assert grow(3) == grow(9)


# ------------------------------------------------------------------------------- the blank sheet


def filled(sheet: str, **seen: str) -> bytes:
    """Fill in the empty cells of a sheet as a student does."""
    rows = list(csv.DictReader(io.StringIO(sheet)))
    for at, row in enumerate(rows, start=1):
        row.update({name: value.format(at) for name, value in seen.items() if not row[name]})
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    return text.getvalue().encode()


@pytest.mark.postgres
def test_the_sheet_that_a_student_fills_in_passes_the_dictionarys_check(
    client: Client, world: World
) -> None:
    enrolled = make_enrolled(world, 3)
    dictionary = make_dictionary(world.project.study)
    session = make_planned_session(world, enrolled)
    client.force_login(world.student)
    answer = client.get(f"/sessions/{session.pk}/sheet/scans.csv")
    assert answer["Content-Disposition"] == 'attachment; filename="scans.csv"'
    sheet = answer.content.decode()
    (header, *rows) = csv.reader(io.StringIO(sheet))
    assert header == ["scan", "ray", "seen_on", "posture", "depth"]
    today = str(timezone.localdate())
    assert rows == [["", one.code, today, "", ""] for one in enrolled]
    deposit = put(
        make_opened(world.project, dictionary=dictionary),
        {"scans.csv": filled(sheet, scan="{}", posture="REST", depth="1.5")},
    )
    checked = check_here(submit_deposit(deposit, by=deposit.maker))
    assert checked.verdict == "valid"


def test_a_plan_that_scans_gives_a_row_for_each_scan_and_the_page_may_ask_for_others(
    client: Client, world: World
) -> None:
    plan = Plan.objects.get(project=world.project)
    plan.recording_rule, plan.schedule = "instantaneous", "Scans every 10 minutes."
    plan.save(update_fields=["recording_rule", "schedule"])
    fields = [
        {"name": "session", "type": "string", "x:role": "session"},
        {"name": "seen_at", "type": "datetime", "x:role": "time"},
        {"name": "ray", "type": "string", "x:role": "animal"},
        {"name": "rests", "type": "boolean", "x:role": "outcome"},
    ]
    resources = [{"name": "scans", "title": "Scans", "schema": {"fields": fields}}]
    make_dictionary(world.project.study, resources=resources)
    session = make_planned_session(world, make_enrolled(world, 2))
    client.force_login(world.student)
    address = f"/sessions/{session.pk}/sheet/"

    def rows(query: str = "") -> list[list[str]]:
        text = client.get(f"{address}scans.csv{query}").content.decode()
        return list(csv.reader(io.StringIO(text)))[1:]

    assert len(rows()) == 3 * 2
    assert len(rows("?every=15")) == 2 * 2
    assert [row[1] for row in rows("?every=")] == ["", ""]
    page = client.get(address).content.decode()
    assert 'value="10.0"' in page
    assert page.count("<tr>") == 1 + 14
    refused = client.get(f"{address}?every=0.05")
    assert refused.status_code == 422
    assert "600 are the most" in refused.content.decode()
    assert client.get(f"{address}scans.csv?every=0.05").status_code == 422
    assert client.get(f"{address}?every=often").status_code == 200
    assert client.get(f"{address}moons.csv").status_code == 404


def test_a_study_without_a_dictionary_says_who_publishes_one(client: Client, world: World) -> None:
    session = make_planned_session(world, make_enrolled(world, 1))
    client.force_login(world.student)
    assert "has no dictionary yet" in client.get(f"/sessions/{session.pk}/sheet/").content.decode()
