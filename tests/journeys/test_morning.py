"""A student's morning on a phone: Today, the session, its sheet, and the session as held."""

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone

from archive.actions import submit_deposit
from registry.animals.actions import mark_animal
from registry.oversight.models import Session
from registry.permissions import Role
from tests.worlds.animals import make_animal
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import check_here, make_dictionary, make_opened, put
from tests.worlds.browsing import PHONE, Visitor
from tests.worlds.oversight import make_enrolled, make_planned_session
from tests.worlds.people import make_person

pytestmark = [
    pytest.mark.browser,
    pytest.mark.journey,
    pytest.mark.django_db(transaction=True),
]
WET_FINGER_PX = 48
SMALL = """least => [...document.querySelectorAll('main button, main a.btn, main summary.btn')]
    .filter(one => one.getBoundingClientRect().width)
    .filter(one => one.getBoundingClientRect().height < least).map(one => one.innerText)"""


@pytest.fixture
def noon(time_machine: Any) -> Any:
    """It is five minutes past noon of a day."""
    begins = timezone.localtime().replace(hour=12, minute=0, second=0, microsecond=0)
    time_machine.move_to(begins.replace(minute=35))
    return begins


def test_a_student_opens_today_takes_the_sheet_down_and_holds_the_session(
    live_server: Any, new_context: Callable[..., Any], noon: Any, tmp_path: Path
) -> None:
    world = make_collecting()
    enrolled = make_enrolled(world, 2)
    mark_animal(enrolled[0].animal, sort="natural", said="A notch in the fin", by=world.curator)
    make_dictionary(world.project.study)
    session = make_planned_session(world, enrolled, start=noon)
    context = new_context(
        base_url=live_server.url, viewport=PHONE, java_script_enabled=False, accept_downloads=True
    )
    student = Visitor(world.student, context.new_page(), is_on_phone=False)
    student.sign_in()
    student.reads("1 thing needs you", f"Session {session.code} at 12:00")
    student.main.get_by_role("link", name="Enter the session").click()
    student.reads("12:00 to 12:30", "A notch in the fin", "every needed permission is live today")

    with student.page.expect_download() as coming:
        student.main.get_by_role("link", name="Download: Scans").click()
    kept = tmp_path / coming.value.suggested_filename
    coming.value.save_as(kept)
    assert kept.name == "scans.csv"
    rows = list(csv.DictReader(io.StringIO(kept.read_text(encoding="utf-8"))))
    assert [row["ray"] for row in rows] == [one.code for one in enrolled]

    student.main.get_by_text("Enter it as held").first.click()
    began = student.main.get_by_label("Began").first
    assert began.input_value() == noon.strftime("%Y-%m-%dT%H:%M")
    student.main.get_by_label("Ended").first.fill(
        noon.replace(minute=30).strftime("%Y-%m-%dT%H:%M")
    )
    student.main.get_by_role("button", name="Enter it as held").click()
    student.reads("held")
    assert "The session was entered as held." in student.page.get_by_role("status").inner_text()
    assert Session.objects.get(pk=session.pk).uses.count() == 2

    for number, row in enumerate(rows, start=1):
        row.update(scan=str(number), posture="SWIM", depth="2")
    filled = io.StringIO(newline="")
    table = csv.DictWriter(filled, list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    deposit = put(make_opened(world.project), {kept.name: filled.getvalue().encode()})
    assert check_here(submit_deposit(deposit, by=world.student)).verdict == "valid"


def test_the_page_of_sessions_fits_a_phone_and_wet_fingers(
    live_server: Any, new_context: Callable[..., Any], noon: Any
) -> None:
    world = make_collecting()
    make_dictionary(world.project.study)
    make_planned_session(world, start=noon)
    context = new_context(base_url=live_server.url, viewport=PHONE)
    student = Visitor(world.student, context.new_page(), is_on_phone=True)
    student.sign_in()
    for address in ("/sessions/", "/morning/"):
        student.page.goto(address)
        for summary in student.main.locator("summary.btn").all():
            summary.click()
        student.looks_right()
        assert student.page.evaluate(SMALL, WET_FINGER_PX) == []


def test_the_sheet_prints_across_one_page_for_each_table(
    live_server: Any, new_context: Callable[..., Any], noon: Any
) -> None:
    world = make_collecting()
    make_dictionary(world.project.study)
    session = make_planned_session(world, start=noon)
    student = Visitor(world.student, new_context(base_url=live_server.url).new_page())
    student.sign_in()
    student.page.goto(f"/sessions/{session.pk}/sheet/")
    printed = student.page.pdf(prefer_css_page_size=True)
    pages = printed.count(b"/MediaBox [0 0 841.91998 594.95996]")
    assert (pages, printed.count(b"/MediaBox")) == (1, 1)


def test_a_keeper_keeps_an_animal_off_in_two_presses_without_scrolling(
    live_server: Any, new_context: Callable[..., Any]
) -> None:
    animal = make_animal(name="Morwen")
    context = new_context(base_url=live_server.url, viewport=PHONE, java_script_enabled=False)
    keeper = Visitor(make_person(Role.KEEPER), context.new_page())
    keeper.sign_in()
    keeper.page.goto(animal.get_absolute_url())
    first = keeper.main.get_by_role("link", name="Keep off this animal")
    assert is_in_sight(first)
    first.click()
    second = keeper.main.get_by_role("button", name="Keep off this animal")
    assert is_in_sight(second)
    second.click()
    keeper.reads("The restriction holds from now on", "bars all research")
    assert animal.restrictions.get().sort == "welfare"


def is_in_sight(one: Any) -> bool:
    """Say whether it stands on the first screen, whole and large enough for a wet finger."""
    box = one.bounding_box()
    in_sight: bool = box["y"] + box["height"] <= PHONE["height"] and box["height"] >= WET_FINGER_PX
    return in_sight
