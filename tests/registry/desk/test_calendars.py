"""The calendar of a person: what they may see now, in the form of RFC 5545, at a secret address.

Source: RFC 5545, sections 3.1 (lines of at most 75 octets, folded by CRLF and one space), 3.3.11
(commas, semicolons, backslashes and line ends escaped), 3.6 (PRODID and VERSION), 3.6.1 (UID and
DTSTAMP), 3.8.1.11 (STATUS), 3.8.7.4 (SEQUENCE). Contents from memory.
"""

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from icalendar import Calendar, Component

from registry.animals.actions import end_restriction
from registry.approvals.actions import give_evidence, suspend_approval
from registry.desk.calendars import calendar_of
from registry.desk.models import CalendarKey
from registry.oversight.actions import miss_session, open_audit, write_point
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.animals import make_animal, make_restriction
from tests.worlds.answers import make_answered
from tests.worlds.approvals import World, make_collecting
from tests.worlds.archive import make_version
from tests.worlds.oversight import make_confirmed_booking, make_enrolled, make_planned_session
from tests.worlds.people import fresh, make_person

pytestmark = pytest.mark.django_db


def today() -> date:
    return timezone.localdate()


def noon() -> Any:
    return timezone.localtime().replace(hour=12, minute=0, second=0, microsecond=0)


def written(person: Person) -> bytes:
    return calendar_of(fresh(person), today())


def events(person: Person) -> list[Component]:
    return list(Calendar.from_ical(written(person)).walk("VEVENT"))


def said(person: Person) -> list[str]:
    return [str(one["summary"]) for one in events(person)]


def one(person: Person, words: str) -> Component:
    found = [event for event in events(person) if words in event["summary"]]
    assert len(found) == 1, (words, said(person))
    return found[0]


def none(person: Person, words: str) -> None:
    assert not [what for what in said(person) if words in what]


@pytest.fixture
def world() -> World:
    return make_collecting(conditions=[("Flow log", today() + timedelta(days=100))])


def test_a_session_stands_in_utc_for_observers_and_members_and_for_nobody_else(
    world: World,
) -> None:
    session = make_planned_session(world, make_enrolled(world, 1), start=noon())
    for person in (world.student, world.lead):
        event = one(person, f"Session {session.code}")
        assert event.decoded("dtstart") == noon().astimezone(UTC)
        assert event.decoded("dtend") == noon().astimezone(UTC) + timedelta(minutes=30)
        assert event["status"] == "CONFIRMED"
        assert event["url"] == f"http://localhost:8000{session.get_absolute_url()}"
    text = written(world.student)
    assert noon().astimezone(UTC).strftime("DTSTART:%Y%m%dT%H%M00Z").encode() in text
    assert b"VTIMEZONE" not in text
    assert b"TZID" not in text
    for person in (world.curator, make_person(Role.STUDENT), world.chair):
        none(person, session.code)


def test_a_missed_session_is_cancelled_with_a_higher_sequence_under_the_same_uid(
    world: World,
) -> None:
    session = make_planned_session(world, make_enrolled(world, 1), start=noon())
    before = one(world.student, session.code)
    assert written(world.student) == written(world.student)
    miss_session(session, reason="The pool was shut.", by=world.student)
    after = one(world.student, session.code)
    assert after["uid"] == before["uid"]
    assert (before["status"], after["status"]) == ("CONFIRMED", "CANCELLED")
    assert int(after["sequence"]) > int(before["sequence"])
    assert after.decoded("last-modified") >= before.decoded("last-modified")


def test_bookings_and_the_last_day_of_approvals_are_those_of_ones_own_projects(
    world: World,
) -> None:
    booking = make_confirmed_booking(world, 1)
    event = one(world.student, f"Booking {booking.pk}")
    assert event.decoded("dtstart") == booking.starts_on
    assert event.decoded("dtend") == booking.ends_on + timedelta(days=1)  # the end is outside
    last = one(world.student, "Last day of an approval")
    assert last.decoded("dtstart") == world.approval.ends_on
    other = make_collecting()
    none(other.student, f"Booking {booking.pk}")
    none(world.curator, "Booking")
    none(world.curator, "Last day")


def test_conditions_restrictions_points_and_actions_go_to_those_whom_today_tells(
    world: World,
) -> None:
    vet, auditor, keeper = (make_person(r) for r in (Role.VET, Role.AUDITOR, Role.KEEPER))
    assert one(world.lead, "Flow log").decoded("dtstart") == today() + timedelta(days=100)
    one(world.curator, "Flow log")
    none(world.student, "Flow log")
    condition = world.approval.conditions.get()
    give_evidence(world.approval, condition=condition, evidence="kept", by=world.lead)
    none(world.lead, "Flow log")

    end = today() + timedelta(days=4)
    restriction = make_restriction(make_animal(name="Morwen"), expected_end_on=end)
    for person in (vet, world.curator):
        assert one(person, "Keep off Morwen").decoded("dtstart") == end
    none(keeper, "Morwen")
    end_restriction(restriction, reason="Healed.", ended_on=today(), by=vet)
    none(vet, "Morwen")

    audit = open_audit(title="Spring", scope="Rays", by=auditor)
    write_point(audit, text="Where are they?", addressee=world.lead, breach=None, by=auditor)
    assert one(world.lead, "audit point").decoded("dtstart") == today()
    none(auditor, "audit point")

    make_answered(version=make_version(), husbandry=[("Close the near side", end)])
    assert one(keeper, "Close the near side").decoded("dtstart") == end
    none(world.student, "Close the near side")


def test_what_one_may_not_see_any_more_is_gone(world: World) -> None:
    one(world.lead, "Last day of an approval")
    suspend_approval(world.approval, reason="A death.", by=world.chair)
    event = one(world.lead, "Last day of an approval")
    assert int(event["sequence"]) > 0
    with time_machine.travel(timezone.now() + timedelta(days=800), tick=False):
        none(world.lead, "Last day of an approval")


def test_the_file_is_folded_at_75_octets_and_its_text_escaped(world: World) -> None:
    make_restriction(
        make_animal(
            name="Mørwen, die große; ‘Schöne’ \\ of the 北 pool, whose name is far too long"
        ),
        expected_end_on=today(),
    )
    text = written(world.curator)
    lines = text.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert lines[-2:] == [b"END:VCALENDAR", b""]
    assert b"\n" not in text.replace(b"\r\n", b"")
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode()  # no character is cut in two
    whole = re.sub(rb"\r\n ", b"", text).decode()
    assert "Mørwen\\, die große\\; ‘Schöne’ \\\\ of the 北 pool\\, whose name" in whole
    assert "Schöne’ \\ of the 北 pool, whose" in one(world.curator, "Keep off")["summary"]


def test_each_event_has_what_the_standard_asks_for_and_a_uid_of_its_own(world: World) -> None:
    make_planned_session(world, start=noon())
    make_confirmed_booking(world)
    calendar = Calendar.from_ical(written(world.lead))
    assert calendar["version"] == "2.0"
    assert calendar["prodid"]
    found = calendar.walk("VEVENT")
    assert len(found) > 3
    assert len({str(event["uid"]) for event in found}) == len(found)
    for event in found:
        assert {"UID", "DTSTAMP", "DTSTART", "DTEND", "SEQUENCE", "STATUS"} <= set(event)
        assert str(event["uid"]).endswith("@localhost")
        assert isinstance(event.decoded("dtstamp"), datetime)
        assert event.decoded("dtend") > event.decoded("dtstart")
    assert not any(calendar.errors)


# ------------------------------------------------------------------------------- its address


def address_of(client: Client) -> str:
    page = client.post("/morning/calendar/").content.decode()
    found = re.search(r'id="address">http://testserver(/calendar/([^<]+)\.ics)<', page)
    assert found is not None
    assert len(found[2]) == 43
    return found[1]


def test_the_secret_address_is_off_at_first_made_anew_and_switched_off(
    client: Client, world: World
) -> None:
    make_planned_session(world, start=noon())
    program = Client()
    client.force_login(world.student)
    assert "has no address yet" in client.get("/morning/").content.decode()
    first = address_of(client)
    answer = program.get(first)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "private" in answer["Cache-Control"]
    assert answer.content == client.get("/calendar.ics").content
    assert first not in client.get("/morning/").content.decode()  # shown once
    key = CalendarKey.objects.get(person=world.student)
    assert first.split("/")[-1].removesuffix(".ics") not in str(vars(key))
    second = address_of(client)
    assert program.get(first).status_code == 404
    assert program.get(second).status_code == 200
    assert program.post(second).status_code == 405
    client.post("/morning/calendar/off/")
    assert program.get(second).status_code == 404


def test_the_calendar_of_someone_inactive_is_not_found(client: Client) -> None:
    person = make_person(Role.KEEPER)
    client.force_login(person)
    address = address_of(client)
    assert Client().get(address).status_code == 200
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert Client().get(address).status_code == 404


def test_a_guessed_address_is_not_found_and_a_look_makes_none(client: Client) -> None:
    assert client.get(f"/calendar/{'a' * 43}.ics").status_code == 404
    assert client.get("/calendar/.ics").status_code == 404
    assert client.get("/calendar.ics").status_code == 302
    client.force_login(make_person())
    for address in ("/morning/calendar/", "/morning/calendar/off/"):
        assert client.get(address).status_code == 405
    assert not CalendarKey.objects.exists()


def test_a_calendar_costs_the_same_queries_at_three_and_at_twelve(world: World) -> None:
    enrolled = make_enrolled(world, 1)

    def grow(n: int) -> int:
        for nth in range(n):
            make_planned_session(world, enrolled, start=noon() + timedelta(minutes=nth))
            make_restriction(make_animal(), expected_end_on=today())
        person = fresh(world.lead)
        assert person.roles
        with CaptureQueriesContext(connection) as caught:
            calendar_of(person, today())
        return len(caught)

    assert grow(3) == grow(9)
