"""Forms in a browser: drafts, faults that lead to fields, the search box, similar questions."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from registry.people.models import Person
from registry.permissions import Role
from registry.questions.models import Question
from tests.worlds.browsing import WAIT_MS
from tests.worlds.people import PASSWORD, make_person
from tests.worlds.questions import make_question

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

POST = "/questions/post/"
WHY = "Why it matters"
FOCUSED = "document.activeElement.id || document.activeElement.className"


@pytest.fixture
def keeper() -> Person:
    return make_person(Role.KEEPER)


def sign_in(page: Page, person: Person) -> None:
    page.get_by_label("E-mail").fill(person.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()


@pytest.fixture
def at(live_server: Any, page: Page, keeper: Person) -> Callable[[str], Page]:
    """Open a page as the keeper."""
    page.set_default_timeout(WAIT_MS)

    def go(path: str) -> Page:
        page.goto(f"{live_server.url}{path}")
        return page

    go("/")
    sign_in(page, keeper)
    page.get_by_role("link", name=keeper.name).wait_for()
    return go


def drafts(page: Page) -> list[str]:
    """Give the drafts of this browser, once there was time to write one."""
    page.wait_for_timeout(600)
    found: list[str] = page.evaluate("() => Object.keys(localStorage)")
    return [key for key in found if key.startswith("draft:")]


def test_a_faulty_form_leads_from_its_summary_to_each_field(at: Any) -> None:
    page = at(POST)
    page.get_by_role("button", name="Post the question").click()
    summary = page.locator(".errs")
    expect(summary).to_be_focused()
    for link in summary.get_by_role("link").all():
        link.click()
        target = page.locator(f"[id='{link.get_attribute('href')[1:]}']")
        expect(target).to_be_focused()
        assert target.get_attribute("aria-invalid") == "true"
        described = (target.get_attribute("aria-describedby") or "").split()
        assert any("Missing" in page.locator(f"[id='{one}']").inner_text() for one in described)
    assert summary.get_by_role("link").count() == 4


def test_a_long_text_is_back_after_the_window_was_closed_and_goes_when_it_was_sent(
    at: Any,
) -> None:
    page = at(POST)
    page.get_by_label(WHY).fill("Half of it was written on the quay.")
    assert drafts(page)
    page = at("/")
    page = at(POST)
    expect(page.get_by_label(WHY)).to_have_value("Half of it was written on the quay.")
    expect(page.locator(".draft")).to_contain_text("it has not been sent")
    page.get_by_label("Your question").fill("Do lumpfish change colour?")
    page.get_by_label("Which animals").fill("lumpfish")
    page.get_by_label("What would change").fill("The light.")
    page.get_by_role("button", name="Post the question").click()
    expect(page.locator(".messages")).to_contain_text("posted")
    page = at(POST)
    expect(page.get_by_label(WHY)).to_have_value("")


def test_one_may_start_afresh_and_signing_out_forgets_every_draft(at: Any) -> None:
    page = at(POST)
    page.get_by_label(WHY).fill("Not this one.")
    assert drafts(page)
    page = at(POST)
    page.get_by_role("button", name="Start afresh").click()
    expect(page.get_by_label(WHY)).to_have_value("")
    page.get_by_label(WHY).fill("Private to me.")
    assert drafts(page)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert not drafts(page)


def test_a_concern_is_never_kept_in_the_browser(at: Any) -> None:
    page = at("/oversight/concerns/raise/")
    page.locator("main textarea").first.fill("Something worries me.")
    assert not drafts(page)


def test_what_is_close_appears_while_one_writes_and_is_not_shown_twice(at: Any) -> None:
    make_question(title="Do gentoos take pebbles from nests nearby?")
    page = at(POST)
    page.get_by_label("Your question").fill("Do gentoos take pebbles from nests of others?")
    place = page.locator("#similar")
    assert place.get_attribute("aria-live") == "polite"
    expect(place.get_by_role("link", name=re.compile("nests nearby"))).to_be_visible()
    page.get_by_label(WHY).fill("They quarrel.")
    page.get_by_label("Which animals").fill("gentoos")
    page.get_by_label("What would change").fill("More pebbles.")
    page.get_by_role("button", name="Post the question").click()
    expect(page.locator(".messages")).to_contain_text("posted")
    assert Question.objects.count() == 2


def test_a_stroke_leads_to_the_search_box_unless_one_is_typing(at: Any) -> None:
    page = at("/questions/")
    page.keyboard.press("/")
    assert page.evaluate(FOCUSED) == "find-q"
    page = at(POST)
    page.get_by_label("Your question").press("/")
    expect(page.get_by_label("Your question")).to_have_value("/")


def test_signed_out_in_another_window_one_signs_in_and_finds_the_text(
    at: Any, keeper: Person, live_server: Any
) -> None:
    page = at(POST)
    page.get_by_label("Your question").fill("Which tank is the quietest?")
    page.get_by_label(WHY).fill("The rays start at every door.")
    page.get_by_label("Which animals").fill("rays")
    page.get_by_label("What would change").fill("The doors.")
    other = page.context.new_page()
    other.goto(live_server.url)
    other.get_by_role("button", name="Sign out").click()
    other.wait_for_url("**/sign-in/**")
    page.get_by_role("button", name="Post the question").click()
    page.wait_for_url("**/sign-in/**")
    # The drafts of this browser are gone with signing out: what comes back was kept by the site.
    sign_in(page, keeper)
    expect(page.get_by_label(WHY)).to_have_value("The rays start at every door.")
    expect(page.locator(".messages")).to_contain_text("It has not been sent yet")
    assert Question.objects.count() == 0
