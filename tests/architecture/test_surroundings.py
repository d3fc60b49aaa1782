import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection

from tests.plugins import browser, counts, network

ROOT = Path(__file__).resolve().parents[2]

CASES = """
import pytest

def test_that_hides_behind_a_skip():
    pytest.skip("the moon was full")

def test_that_is_skipped_for_a_listed_reason():
    pytest.skip("STRANDLINE_SUITES is not set: not here")

def test_that_passes():
    pass
"""


def test_a_call_to_another_machine_is_refused_and_one_to_this_one_is_not():
    with socket.socket() as answering, socket.socket() as calling:
        answering.bind(("127.0.0.1", 0))
        answering.listen()
        calling.connect(answering.getsockname())
    # 192.0.2.0/24 and example.org are set apart for examples (RFC 5737, RFC 2606).
    with socket.socket() as calling, pytest.raises(network.CallOutside, match=r"192\.0\.2\.1"):
        calling.connect(("192.0.2.1", 80))
    with pytest.raises(network.CallOutside, match=r"example\.org"):
        socket.getaddrinfo("example.org", 80)


def test_nothing_of_the_callers_own_site_is_touched():
    home = Path(os.environ["STRANDLINE_VAR"])
    assert settings.TESTING
    assert ROOT not in home.parents
    assert home.resolve() == settings.VAR
    assert settings.VAR in Path(settings.STORE).parents


def test_an_unlisted_skip_and_a_missing_kind_fail_the_run(tmp_path):
    case = tmp_path / "test_case.py"
    case.write_text(CASES, encoding="utf-8")
    asked = [sys.executable, "-m", "pytest", "-q", "-c", ROOT / "pyproject.toml", case]
    around = {**os.environ, "STRANDLINE_SUITES": ""}

    def run(*more: str) -> tuple[int, str]:
        told = subprocess.run(
            [*asked, *more], cwd=ROOT, env=around, capture_output=True, text=True, check=False
        )
        return told.returncode, told.stdout

    code, told = run("-k", "that_passes or for_a_listed", "--at-least", "outside=0")
    assert code == 0, told
    code, told = run("--at-least", "browser=1")
    assert code == 1, told
    assert "skipped for a reason not listed: the moon was full" in told
    assert told.count("not listed") == 1
    assert "0 tests marked browser passed; there are at least 1" in told


def test_the_budget_names_what_failed_and_what_took_too_long():
    lines = counts.table(
        [
            {"name": "install", "seconds": 3.0, "budget": 120, "failed": []},
            {"name": "SQLite", "seconds": 400.0, "budget": 360, "failed": ["sqlite"]},
        ]
    )
    assert " ".join(lines[2].split()) == "SQLite 400.0 360 over its budget, FAILED"
    assert lines[3].split() == ["in", "all", "403.0", "1500"]
    assert lines[-1] == "failed: sqlite"


def test_chromium_is_the_one_that_was_said(monkeypatch):
    monkeypatch.setenv("CHROMIUM", sys.executable)
    assert browser.chromium() == sys.executable
    monkeypatch.setenv("CHROMIUM", "/nowhere/chromium")
    assert browser.chromium() is None


@pytest.mark.postgres(only=True)
@pytest.mark.django_db
def test_the_temporary_server_is_postgresql_on_a_socket():
    with connection.cursor() as cursor:
        cursor.execute("SELECT inet_server_addr() IS NULL, current_setting('fsync')")
        assert cursor.fetchone() == (True, "off")
