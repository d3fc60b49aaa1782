"""The second factor: set up, asked, lost, owed; and whoever may no longer sign in."""

import logging
import re
import time
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value
from django.core.cache import cache
from django.test import Client
from django.utils.html import escape
from pytest_django import Settings

from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.people.actions import make_token
from registry.people.models import Person
from registry.people.sign_in import actions, brake, factor
from registry.people.sign_in.sealing import Sealing
from registry.permissions import Role
from tests.worlds.people import PASSWORD, fresh, make_person, now_code, with_second_factor

pytestmark = pytest.mark.django_db

HOME = "/people/signing-in/"
SET_UP = f"{HOME}second/"
SECOND = "/sign-in/second/"


@pytest.fixture(autouse=True)
def _no_tries_yet() -> None:
    cache.clear()


def give_password(client: Client, person: Person, **more: str) -> Any:
    typed = {"username": person.email, "password": PASSWORD, **more}
    return client.post("/sign-in/", typed)


def is_signed_in(client: Client) -> bool:
    return client.get(HOME).status_code == 200


# ------------------------------------------------------------------------------------- RFC 6238


@pytest.mark.outside
@pytest.mark.parametrize(
    ("moment", "said"),
    [
        (59, "94287082"),
        (1111111109, "07081804"),
        (1111111111, "14050471"),
        (1234567890, "89005924"),
        (2000000000, "69279037"),
        (20000000000, "65353130"),
    ],
)
def test_the_codes_are_those_of_the_standard(settings: Settings, moment: int, said: str) -> None:
    """Source: RFC 6238 (2011), Appendix B, the rows of SHA1; 8 digits, steps of 30 s.

    The secret is the text 12345678901234567890, in base 32.
    """
    settings.MFA_TOTP_DIGITS = 8
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"
    assert format_hotp_value(hotp_value(secret, moment // 30)) == said


def test_a_code_holds_half_a_minute_early_or_late_and_not_a_whole_one(time_machine: Any) -> None:
    secret = factor.new_secret()
    step = 60_000_000
    code = now_code(secret, step)
    for off, holds in ((-2, False), (-1, True), (0, True), (1, True), (2, False)):
        time_machine.move_to((step + off) * 30 + 5, tick=False)
        assert (factor.step_of(secret, code) == step) is holds, off


def test_the_secret_has_the_length_that_the_standard_recommends() -> None:
    """Source: RFC 4226 (2005), section 4, R6: 160 bits are recommended."""
    assert re.fullmatch("[A-Z2-7]{32}", factor.new_secret())
    assert factor.new_secret() != factor.new_secret()


# -------------------------------------------------------------------------------------- setting up


def test_one_sets_it_up_with_the_apps_code_and_ones_password(client: Client) -> None:
    person, other = make_person(), Client()
    client.force_login(person)
    other.force_login(person)
    page = client.get(SET_UP).content.decode()
    secret = re.search(r'id="secret">([A-Z2-7 ]+)<', page)[1].replace(" ", "")  # type: ignore[index]
    assert '<svg class="qr"' in page
    assert "style=" not in page
    sent = {"passcode": "000000", "password": PASSWORD}
    assert client.post(SET_UP, sent).status_code == 422
    sent = {"passcode": now_code(secret), "password": "wrong"}
    assert client.post(SET_UP, sent).status_code == 422
    assert fresh(person).second_factor_on is None
    sent["password"] = PASSWORD
    codes = re.findall(
        r"<li><code>(\d{4} \d{4})</code>", client.post(SET_UP, sent).content.decode()
    )
    assert len(set(codes)) == 10
    assert fresh(person).second_factor_on is not None
    assert is_signed_in(client)
    assert not is_signed_in(other), "another browser stayed signed in"
    home = client.get(HOME).content.decode()
    assert codes[0] not in home
    assert secret not in home
    assert client.get(SET_UP).headers["Location"] == HOME


def test_secrets_lie_sealed_and_open_only_under_the_key_of_the_site(settings: Settings) -> None:
    person, secret, _ = with_second_factor()
    rows = Authenticator.objects.filter(user=person)
    assert {row.type for row in rows} == {"totp", "recovery_codes"}
    app = rows.get(type="totp")
    assert secret not in str(app.data)
    assert Sealing().decrypt(app.data["secret"]) == secret
    kept, settings.SECRET_KEY = settings.SECRET_KEY, "another key, by which nothing opens"
    with pytest.raises(Conflict, match="secret key is another"):
        factor.takes(person, now_code(secret))
    settings.SECRET_KEY_FALLBACKS = [kept]
    assert factor.takes(person, now_code(secret, off=1))


def test_it_is_not_set_up_twice_nor_with_a_wrong_code() -> None:
    person, secret, _ = with_second_factor()
    with pytest.raises(Conflict, match="one already"):
        actions.turn_on_second_factor(person, secret=secret, code=now_code(secret), by=person)
    other = make_person()
    with pytest.raises(Unsound) as refused:
        actions.turn_on_second_factor(other, secret=secret, code="123", by=other)
    assert "passcode" in refused.value.fields


# ------------------------------------------------------------------------------------- signing in


def test_after_the_password_the_code_is_asked_and_without_it_there_is_no_session(
    client: Client,
) -> None:
    person, secret, _ = with_second_factor()
    answer = give_password(client, person, next="/questions/")
    assert answer.headers["Location"] == SECOND
    assert "_auth_user_id" not in client.session
    assert not is_signed_in(client)
    assert client.get("/api/v1/questions/").status_code == 401
    assert client.post(SECOND, {"passcode": "000000"}).status_code == 422
    assert client.post(SECOND, {}).status_code == 422
    assert not is_signed_in(client)
    done = client.post(SECOND, {"passcode": now_code(secret, off=1)})
    assert done.headers["Location"] == "/questions/"
    assert is_signed_in(client)
    assert client.get(SECOND).status_code == 302


def test_a_code_that_was_taken_is_not_taken_again(client: Client) -> None:
    """Source: RFC 6238 (2011), section 5.2: the second use of a code must be refused."""
    person, secret, codes = with_second_factor()
    code = now_code(secret, off=1)
    assert factor.takes(person, code)
    cache.clear()
    assert not factor.takes(person, code)
    assert factor.takes(person, codes[0])
    assert not factor.takes(person, codes[0])
    assert factor.held_by(person).codes_left == 9


def test_a_recovery_code_lets_in_once(client: Client) -> None:
    person, _, codes = with_second_factor()
    for wanted in (302, 422):
        give_password(client, person, next="/questions/")
        written = f"{codes[3][:4]} {codes[3][4:]}"
        assert client.post(SECOND, {"passcode": written}).status_code == wanted
        client.post("/sign-out/")


def test_after_five_wrong_codes_the_second_step_must_rest(client: Client) -> None:
    person, secret, _ = with_second_factor()
    give_password(client, person)
    for _ in range(brake.OF_CODES.tries):
        client.post(SECOND, {"passcode": "000000"})
    page = client.post(SECOND, {"passcode": now_code(secret, off=1)})
    assert b"Too many wrong codes" in page.content
    cache.clear()
    assert client.post(SECOND, {"passcode": now_code(secret, off=1)}).status_code == 302


def test_the_second_step_ends_after_ten_minutes_or_when_the_password_changes(
    client: Client, time_machine: Any
) -> None:
    person, secret, _ = with_second_factor()
    give_password(client, person)
    person.set_password("herring at noon")
    person.save()
    code = now_code(secret, off=1)
    assert client.post(SECOND, {"passcode": code}).headers["Location"] == "/sign-in/"
    client.post("/sign-in/", {"username": person.email, "password": "herring at noon"})
    time_machine.move_to(time.time() + 601)
    answer = client.post(SECOND, {"passcode": now_code(secret)})
    assert answer.headers["Location"] == "/sign-in/"
    assert not is_signed_in(client)


def test_whoever_gave_no_password_gets_no_second_step(client: Client) -> None:
    _, secret, _ = with_second_factor()
    for answer in (client.get(SECOND), client.post(SECOND, {"passcode": now_code(secret)})):
        assert answer.headers["Location"] == "/sign-in/"


def test_a_programs_token_is_not_asked_for_a_code() -> None:
    person, _, _ = with_second_factor()
    token, _ = make_token(person, name="logger", days=1, by=person)
    program = Client(headers={"Authorization": f"Token {token}"})
    assert program.get("/api/v1/questions/").status_code == 200


# ------------------------------------------------------------------------- turning off, new codes


def test_it_is_turned_off_and_codes_are_renewed_with_the_password_alone(client: Client) -> None:
    person, _, codes = with_second_factor()
    client.force_login(person)
    for path in ("second/off/", "codes/"):
        assert client.get(HOME + path).status_code == 200
        assert client.post(HOME + path, {"password": "wrong"}).status_code == 422
    page = client.post(f"{HOME}codes/", {"password": PASSWORD}).content.decode()
    assert len(re.findall(r"<li><code>\d{4} \d{4}</code>", page)) == 10
    assert not factor.takes(person, codes[0])
    other = Client()
    other.force_login(fresh(person))
    answer = client.post(f"{HOME}second/off/", {"password": PASSWORD}, follow=True)
    assert b"The second factor is off." in answer.content
    assert not is_signed_in(other)
    assert not Authenticator.objects.filter(user=person).exists()
    assert give_password(Client(), person, next="/questions/").headers["Location"] == "/questions/"
    for path in ("second/off/", "codes/", "passkeys/add/"):
        assert client.get(HOME + path).status_code == 302
    with pytest.raises(Conflict):
        actions.renew_recovery_codes(fresh(person), by=fresh(person))


def test_guessing_the_password_there_is_braked_as_at_the_door(client: Client) -> None:
    person, _, _ = with_second_factor()
    client.force_login(person)
    for _ in range(brake.OF_EMAIL.tries):
        client.post(f"{HOME}second/off/", {"password": "wrong"})
    page = client.post(f"{HOME}second/off/", {"password": PASSWORD})
    assert b"Too many wrong tries" in page.content
    assert fresh(person).second_factor_on is not None


def test_one_signs_out_everywhere_else(client: Client) -> None:
    person, other = make_person(), Client()
    client.force_login(person)
    other.force_login(person)
    assert client.post(f"{HOME}elsewhere/").status_code == 302
    assert is_signed_in(client)
    assert not is_signed_in(other)


def test_every_other_session_ends_when_the_password_changes_and_the_page_says_so(
    client: Client,
) -> None:
    person, other = make_person(), Client()
    client.force_login(person)
    other.force_login(person)
    new = {"new_password1": "herring at noon", "new_password2": "herring at noon"}
    done = client.post("/password/change/", {"old_password": PASSWORD, **new}, follow=True)
    assert b"Wherever else you were signed in, you are signed out." in done.content
    assert not is_signed_in(other)


# -------------------------------------------------------------------------------------- the duty


def test_whoever_owes_a_second_factor_reaches_only_the_page_where_it_is_set_up(
    client: Client, settings: Settings
) -> None:
    settings.SECOND_FACTOR_FOR = frozenset({Role.ADMINISTRATOR})
    owing, free = make_person(Role.ADMINISTRATOR), make_person(Role.KEEPER)
    client.force_login(owing)
    for path in ("/", "/people/", HOME, "/people/tokens/", "/password/change/"):
        assert client.get(path).headers["Location"] == SET_UP, path
    refused = client.get("/api/v1/people/")
    assert (refused.status_code, refused.json()["code"]) == (403, "not_permitted")
    page = client.get(SET_UP)
    assert b"Your standing asks for a second factor" in page.content
    assert client.post("/sign-out/").status_code == 302
    client.force_login(free)
    assert client.get("/people/").status_code == 200
    secret = factor.new_secret()
    actions.turn_on_second_factor(owing, secret=secret, code=now_code(secret), by=owing)
    client.force_login(fresh(owing))
    assert client.get("/people/").status_code == 200
    with pytest.raises(Unsound, match="Your standing asks for one"):
        actions.turn_off_second_factor(owing, by=fresh(owing))


# ------------------------------------------------------------------------- reset, stop, admit


def test_an_administrator_resets_a_lost_one_and_the_person_is_told(
    client: Client, mailoutbox: list[Any]
) -> None:
    person, _, _ = with_second_factor()
    administrator, theirs = make_person(Role.ADMINISTRATOR), Client()
    theirs.force_login(person)
    client.force_login(administrator)
    assert b"Reset the second factor" in client.get(person.get_absolute_url()).content
    address = f"{person.get_absolute_url()}reset_second_factor/"
    assert client.post(address, {"reason": ""}).status_code == 422
    assert client.post(address, {"reason": "phone in the sea; I met her"}).status_code == 302
    assert not is_signed_in(theirs)
    (letter,) = mailoutbox
    assert letter.to == [person.email]
    assert "an administrator reset your second factor" in letter.body
    entry = Entry.objects.get(verb="person.reset_second_factor")
    assert (entry.actor, entry.reason) == (administrator, "phone in the sea; I met her")
    assert give_password(Client(), person, next="/questions/").headers["Location"] == "/questions/"
    assert client.post(address, {"reason": "again"}).status_code == 403
    assert b"Reset the second factor" not in client.get(person.get_absolute_url()).content
    found, _ = proof.check(with_subjects=True)
    assert [fault.what for fault in found] == []


@pytest.mark.parametrize("deed", [actions.reset_second_factor, actions.stop_person])
def test_neither_reset_nor_stop_is_done_to_oneself_or_by_another_standing(deed: Any) -> None:
    administrator, _, _ = with_second_factor(Role.ADMINISTRATOR)
    keeper, curator = make_person(Role.KEEPER), make_person(Role.CURATOR)
    with pytest.raises(NotPermitted):
        deed(administrator, reason="why not", by=administrator)
    with pytest.raises(NotPermitted):
        deed(keeper, reason="why not", by=curator)
    clock = Person.objects.get(is_system=True)
    with pytest.raises(NotPermitted):
        deed(clock, reason="why not", by=administrator)


def test_whoever_is_stopped_is_out_at_once_and_old_sessions_do_not_come_back(
    client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    administrator, person, theirs = make_person(Role.ADMINISTRATOR), make_person(), Client()
    theirs.force_login(person)
    token, _ = make_token(person, name="logger", days=1, by=person)
    program = Client(headers={"Authorization": f"Token {token}"})
    assert program.get("/api/v1/questions/").status_code == 200
    client.force_login(administrator)
    home = person.get_absolute_url()
    assert client.post(f"{home}stop/", {"reason": "left the university"}).status_code == 302
    assert b"may not sign in" in client.get(home).content
    assert not is_signed_in(theirs)
    with caplog.at_level(logging.INFO, "strandline.security"):
        assert program.get("/api/v1/questions/").status_code == 401
    assert f"of person {person.pk}" in caplog.text
    assert token not in caplog.text
    assert give_password(Client(), person).status_code == 200
    assert client.post(f"{home}stop/", {"reason": "again"}).status_code == 403
    assert client.post(f"{home}admit/", {"reason": "back as a guest"}).status_code == 302
    assert not is_signed_in(theirs), "a session from before came back to life"
    assert program.get("/api/v1/questions/").status_code == 200
    assert give_password(Client(), person, next="/questions/").status_code == 302
    assert client.post(f"{home}admit/", {"reason": "again"}).status_code == 403
    found, _ = proof.check(with_subjects=True)
    assert [fault.what for fault in found] == []


def test_two_administrators_cannot_stop_each_other_at_once() -> None:
    one, other = make_person(Role.ADMINISTRATOR), make_person(Role.ADMINISTRATOR)
    actions.stop_person(one, reason="first", by=other)
    with pytest.raises(Conflict, match="stopped meanwhile"):
        actions.stop_person(other, reason="second", by=one)
    assert fresh(other).is_active


# ------------------------------------------------------------------------------------- passkeys


def test_a_passkey_that_answers_no_challenge_is_not_taken(client: Client) -> None:
    person, _, _ = with_second_factor()
    client.force_login(person)
    page = client.get(f"{HOME}passkeys/add/").content.decode()
    assert escape('"publicKey"') in page
    sent = {"name": "office", "password": PASSWORD}
    for credential in ("", "{", "[]", "{}", '{"id": "AA", "rawId": "AA", "response": {}}'):
        answer = client.post(f"{HOME}passkeys/add/", {**sent, "secret_credential": credential})
        assert answer.status_code == 422, credential
    assert factor.passkeys_of(person) == []
    client.post("/sign-out/")
    factor.lay_passkey(person, "office", {"id": "AA"})
    assert client.get("/people/signing-in/passkeys/1/remove/").status_code == 302


def test_a_passkey_is_removed_by_its_own_person_alone(client: Client) -> None:
    person, _, _ = with_second_factor()
    other, _, _ = with_second_factor()
    factor.lay_passkey(person, "office", {"id": "AA"})
    (passkey,) = factor.passkeys_of(person)
    address = f"{HOME}passkeys/{passkey.pk}/remove/"
    client.force_login(other)
    assert client.post(address, {"password": PASSWORD}).status_code == 404
    with pytest.raises(NotPermitted, match="not yours"):
        actions.remove_passkey(other, passkey=passkey, by=other)
    client.force_login(person)
    assert b"office" in client.get(HOME).content
    assert client.post(address, {"password": "wrong"}).status_code == 422
    assert client.post(address, {"password": PASSWORD}).status_code == 302
    assert factor.passkeys_of(person) == []


def test_a_name_is_given_to_one_passkey_alone() -> None:
    person, _, _ = with_second_factor()
    actions.add_passkey(person, name="office", credential={}, by=person)
    with pytest.raises(Unsound) as refused:
        actions.add_passkey(person, name="office", credential={}, by=person)
    assert "name" in refused.value.fields


def test_no_page_of_the_library_behind_it_is_mounted(client: Client) -> None:
    client.force_login(make_person(Role.ADMINISTRATOR))
    for path in ("/accounts/", "/accounts/login/", "/accounts/signup/", "/accounts/email/",
                 "/accounts/2fa/", "/accounts/password/change/", "/mfa/", "/2fa/"):  # fmt: skip
        assert client.get(path).status_code == 404, path
