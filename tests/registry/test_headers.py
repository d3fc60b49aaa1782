"""The heads of every kind of answer, and the cookies."""

import os
import subprocess
import sys
from collections.abc import Callable
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from registry.headers import OF_NO_PAGE
from registry.permissions import Role
from tests.worlds.archive import make_opened, make_version, put
from tests.worlds.people import make_person
from tests.worlds.questions import make_question

ROOT = Path(__file__).resolve().parents[2]
pytestmark = pytest.mark.django_db

WANTED = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


def policy(answer: Any) -> dict[str, str]:
    """Give the policy of an answer by its directives, after its other heads were looked at."""
    for name, value in WANTED.items():
        assert answer.headers[name] == value, name
    told = answer.headers["Content-Security-Policy"]
    assert "unsafe" not in told
    assert "*" not in told
    parts = (part.strip().partition(" ") for part in told.split(";"))
    found = {name: value for name, _, value in parts}
    assert found["default-src"] == "'none'"
    assert found["frame-ancestors"] == "'none'"
    return found


def is_page(answer: Any) -> bool:
    return policy(answer).get("script-src") == "'self'"


def test_pages_refusals_and_what_is_not_found_have_them(client: Client) -> None:
    assert is_page(client.get("/sign-in/"))
    assert is_page(client.get("/"))
    client.force_login(make_person(Role.STUDENT))
    question = make_question()
    for path, status in (
        ("/", 200),
        (question.get_absolute_url(), 200),
        (f"{question.get_absolute_url()}park/", 403),
        ("/no/such/page/", 404),
        ("/people/1000000/", 404),
        ("/questions/?a=%00", 400),
    ):
        answer = client.get(path)
        assert answer.status_code == status, path
        assert is_page(answer), path
    assert is_page(client.post(f"{question.get_absolute_url()}like/", {"note": "x" * 9999}))
    assert is_page(Client(enforce_csrf_checks=True).post("/sign-in/", {}))
    assert is_page(client.put("/questions/"))
    assert is_page(client.get("/sign-in/", headers={"Host": "elsewhere.example"}))


@pytest.mark.parametrize(("path", "kind"), [("/people/", "page"), ("/api/v1/people/", "program")])
def test_a_fault_has_them_too(monkeypatch: pytest.MonkeyPatch, path: str, kind: str) -> None:
    client = Client(raise_request_exception=False)
    client.force_login(make_person(Role.CURATOR))

    def breaks(*parts: Any, **more: Any) -> Any:
        raise RuntimeError("a fault that nobody foresaw")

    monkeypatch.setattr("registry.people.views.page_of", breaks)
    monkeypatch.setattr("registry.rest.ObjectViewSet.get_queryset", breaks)
    answer = client.get(path)
    assert answer.status_code == 500
    assert is_page(answer) is (kind == "page")
    assert b"RuntimeError" not in answer.content


def test_what_is_no_page_is_shown_as_a_stranger_without_scripts(client: Client) -> None:
    version, client_of = make_version(), Client()
    deposit = put(make_opened(), {"notes.html": b"<script>alert(1)</script>"})
    client_of.force_login(deposit.maker)
    home = version.get_absolute_url()
    tag = f'"{version.manifest["data/scans.csv"]["sha256"]}"'
    sent_in = f"{deposit.get_absolute_url()}files/{deposit.files.get().pk}/"
    answers = {
        "api": client.get("/api/v1/versions/"),
        "api refused": client.get("/api/v1/people/"),
        "api not there": client.get("/api/v1/nothing/"),
        "healthy": client.get("/healthy/"),
        "data": client.get(f"{home}data/scans.csv"),
        "part": client.get(f"{home}data/scans.csv", headers={"Range": "bytes=0-3"}),
        "unchanged": client.get(f"{home}data/scans.csv", headers={"If-None-Match": tag}),
        "spreadsheet": client.get(f"{home}spreadsheet/scans.csv"),
        "package": client.get(f"{home}package.zip"),
        "descriptor": client.get(f"{home}datapackage.json"),
        "citation": client.get(f"{home}citation.bib"),
        "deposit's file": client_of.get(sent_in),
    }  # fmt: skip
    for name, answer in answers.items():
        if answer.streaming:
            assert list(answer.streaming_content), name
        assert answer.headers["Content-Security-Policy"] == OF_NO_PAGE, name
        assert "sandbox" in policy(answer), name
        assert not answer.headers.get("Content-Type", "").startswith("text/html"), name
    assert answers["part"].status_code == 206
    assert answers["unchanged"].status_code == 304
    sent = answers["deposit's file"]
    assert sent.headers["Content-Type"] == "application/octet-stream"
    assert sent.headers["Content-Disposition"].startswith("attachment;")


def test_the_stylesheet_and_the_scripts_have_them(client: Client) -> None:
    for name in ("strandline.css", "strandline.js", "passkey.js", "mark.svg"):
        answer = client.get(f"/static/{name}")
        assert answer.status_code == 200
        answer.close()
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "unsafe" not in answer.headers["Content-Security-Policy"]


def test_cookies_are_for_this_site_alone_and_no_script_reads_them(client: Client) -> None:
    person = make_person()
    client.get("/sign-in/")
    client.post("/sign-in/", {"username": person.email, "password": "a tide goes out"})
    for name in ("sessionid", "csrftoken"):
        cookie = client.cookies[name]
        assert cookie["httponly"], name
        assert cookie["samesite"] == "Lax", name
        assert cookie["path"] == "/", name
        assert not cookie["domain"], name


_SERVED_BY_TLS = """
import django; django.setup()
from django.test import Client
answer = Client(HTTP_HOST="localhost").get("/password/forgotten/", secure=True)
hsts = answer.headers["Strict-Transport-Security"]
print(answer.status_code, answer.cookies.output(header=""), hsts)
plain = Client(HTTP_HOST="localhost").get("/sign-in/")
print(plain.status_code, plain.headers["Location"], plain.headers["Content-Security-Policy"])
from django.conf import settings
print(settings.SESSION_COOKIE_NAME, settings.SESSION_COOKIE_SECURE)
"""


def test_by_tls_a_cookie_is_bound_to_this_very_host(
    tmp_path: Path, lay: Callable[[Path], None]
) -> None:
    """Source: RFC 6265bis, section 4.1.3.2: __Host- asks Secure, Path=/ and no Domain."""
    lay(tmp_path / "strandline.sqlite3")
    clean = {k: v for k, v in os.environ.items() if not k.startswith("STRANDLINE_")}
    here = {
        "STRANDLINE_VAR": str(tmp_path),
        "STRANDLINE_HTTPS": "yes",
        "STRANDLINE_SECRET_KEY": "k7Wq" * 20,
        "DJANGO_SETTINGS_MODULE": "registry.settings",
    }
    done = subprocess.run(
        [sys.executable, "-c", _SERVED_BY_TLS],
        cwd=ROOT,
        env=clean | here,
        capture_output=True,
        text=True,
        check=True,
    )
    shown, plain, names = done.stdout.strip().splitlines()
    cookie = SimpleCookie(shown.removeprefix("200 ").rpartition(" max-age")[0])["__Host-csrf"]
    assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")
    assert "max-age=31536000" in shown
    assert plain.startswith("301 https://localhost/sign-in/ default-src 'none'")
    assert names == "__Host-session True"
