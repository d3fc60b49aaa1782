"""The second factor by real pages in a real browser: an app's codes, a passkey, a lost phone."""

import time
from typing import Any

import pytest
from django.core.cache import cache

from registry.people.models import Person
from tests.worlds.browsing import DESK, PHONE, Visitor
from tests.worlds.people import PASSWORD, make_person, now_code, with_second_factor

pytestmark = [
    pytest.mark.browser,
    pytest.mark.journey,
    pytest.mark.django_db(transaction=True),
]

AUTHENTICATOR = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}
"""A passkey's device that the browser plays itself (Chrome DevTools Protocol, WebAuthn domain)."""


@pytest.fixture(autouse=True)
def _no_tries_yet() -> None:
    cache.clear()


def window(live_server: Any, new_context: Any, person: Person, **more: Any) -> Visitor:
    is_on_phone = more.get("viewport") == PHONE
    page = new_context(base_url=live_server.url, **more).new_page()
    return Visitor(person, page, is_on_phone=is_on_phone)


def give_password(visitor: Visitor) -> None:
    visitor.page.goto("/sign-in/")
    visitor.types(**{"E-mail": visitor.person.email, "Password": PASSWORD})
    visitor.presses("Sign in")
    visitor.reads("Is it you?")


def sign_out(visitor: Visitor) -> None:
    visitor.page.get_by_role("button", name="Sign out", exact=True).click()
    visitor.looks_right()


def test_one_sets_up_an_app_and_a_passkey_and_signs_in_by_each(
    live_server: Any, new_context: Any
) -> None:
    person = make_person(name="Runa Hale")
    here = window(live_server, new_context, person, viewport=DESK)
    devtools = here.page.context.new_cdp_session(here.page)
    devtools.send("WebAuthn.enable")
    devtools.send("WebAuthn.addVirtualAuthenticator", {"options": AUTHENTICATOR})
    complaints: list[str] = []
    here.page.on("console", lambda said: complaints.append(said.text))
    here.sign_in()
    here.page.get_by_role("link", name=person.name).click()
    for step in ("Signing in", "Set it up"):
        here.follows(step)
    box = here.main.locator("svg.qr").bounding_box()
    assert box is not None
    assert box["width"] > 200
    secret = here.main.locator("#secret").inner_text().replace(" ", "")
    here.types(**{"Code that the app shows": now_code(secret), "Your password": PASSWORD})
    here.presses("Turn it on")
    codes = here.main.locator("ol.codes code").all_inner_texts()
    assert len(codes) == 10
    here.follows("I have them")
    here.reads("Recovery codes left", "10")

    here.follows("Add a passkey")
    here.types(**{"Name of the passkey": "office computer", "Your password": PASSWORD})
    here.main.get_by_role("button", name="Make the passkey").click()
    here.page.wait_for_url("**/people/signing-in/")
    here.looks_right()
    here.reads("The passkey was added.", "office computer")

    sign_out(here)
    give_password(here)
    here.types(Code="000000")
    here.presses("Sign in", refused=422)
    here.reads("Not a code for now")
    here.main.get_by_role("button", name="Use a passkey").click()
    here.page.get_by_role("link", name=person.name).wait_for()
    here.looks_right()

    sign_out(here)
    give_password(here)
    here.types(Code=codes[0])
    here.presses("Sign in")
    assert here.page.get_by_role("link", name=person.name).is_visible()
    # The one that was refused is the browser's own word for the answer 422.
    assert [said for said in complaints if "422" not in said] == []


def test_the_app_s_code_needs_no_script_and_fits_a_phone(
    live_server: Any, new_context: Any
) -> None:
    person, secret, _ = with_second_factor()
    here = window(live_server, new_context, person, viewport=PHONE, java_script_enabled=False)
    give_password(here)
    here.types(Code=now_code(secret, int(time.time()) // 30 + 1))
    here.presses("Sign in")
    assert here.page.get_by_role("link", name=person.name).is_visible()
    here.page.goto("/people/signing-in/")
    here.looks_right()
    here.follows("Turn it off")
    here.types(**{"Your password": PASSWORD})
    here.presses("Turn it off")
    here.reads("The second factor is off.")
