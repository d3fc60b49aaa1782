"""What `manage.py check` says before strangers meet the site."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from pytest_django import Settings

from archive.storage.address import read_address
from registry import checks
from registry.demo.people import PASSWORD
from registry.people.models import Person, the_clock
from tests.worlds.people import make_person

ROOT = Path(__file__).resolve().parents[2]
SECRET = "k7Wq" * 20 + "Zt9-_x2"
WELL = {
    "STRANDLINE_HTTPS": "yes",
    "STRANDLINE_SECRET_KEY": SECRET,
    "STRANDLINE_HOSTS": "strandline.skerrywick.example",
    "STRANDLINE_SMTP_HOST": "mail.skerrywick.example",
}

type Deploy = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def deploy(tmp_path: Path) -> Deploy:
    """Give `manage.py check --deploy` as whoever keeps the site runs it."""

    def run(**change: str) -> subprocess.CompletedProcess[str]:
        ours = ("STRANDLINE_", "DJANGO_")  # the browser's tests set one of the second
        clean = {k: v for k, v in os.environ.items() if not k.startswith(ours)}
        here = {"STRANDLINE_VAR": str(tmp_path), **WELL, **change}
        return subprocess.run(
            [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"],
            cwd=ROOT,
            env=clean | {name: said for name, said in here.items() if said},
            capture_output=True,
            text=True,
            check=False,
        )

    return run


def test_a_site_that_is_set_up_well_is_told_nothing(deploy: Deploy) -> None:
    done = deploy()
    assert done.returncode == 0, done.stderr
    assert "no issues" in done.stdout


def test_each_slip_is_told_with_what_to_do(deploy: Deploy) -> None:
    done = deploy(STRANDLINE_SECRET_KEY="", STRANDLINE_HOSTS="", STRANDLINE_SMTP_HOST="")
    assert done.returncode == 1
    for said in ("strandline.W001", "Set STRANDLINE_SECRET_KEY", "strandline.W002", "mail.E001"):
        assert said in done.stderr


def codes() -> set[str]:
    return {str(one.id) for one in checks.surroundings()}


@pytest.fixture
def at_work(settings: Settings, tmp_path: Path) -> Settings:
    """A site as it is served: no test of it, with folders of its own."""
    settings.TESTING = settings.DEBUG = False
    settings.IS_HTTPS = True
    settings.VAR, settings.STORE = tmp_path, tmp_path / "store" / "not yet there"
    settings.ALLOWED_HOSTS = ["strandline.skerrywick.example"]
    return settings


def test_folders_that_cannot_be_written_are_errors(
    at_work: Settings, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("STRANDLINE_SECRET_KEY", SECRET)
    assert codes() == set()
    (tmp_path / "file").touch()
    at_work.STORE = tmp_path / "file" / "store"
    assert codes() == {"strandline.E002"}
    at_work.STORE = tmp_path
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert codes() == {"strandline.E002"}


def test_without_https_or_while_it_is_worked_on_nothing_is_said_of_keys_and_names(
    at_work: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("STRANDLINE_SECRET_KEY", raising=False)
    at_work.ALLOWED_HOSTS = ["localhost"]
    assert codes() == {"strandline.W001", "strandline.W002"}
    at_work.IS_HTTPS = False
    assert codes() == set()
    at_work.IS_HTTPS, at_work.DEBUG = True, True
    assert codes() == set()


def test_a_standing_that_is_none_is_told(settings: Settings) -> None:
    settings.SECOND_FACTOR_FOR = frozenset({"administrator", "admiral"})
    (told,) = checks.surroundings()
    assert "admiral" in told.msg
    assert "administrator" not in told.msg


@pytest.mark.django_db
def test_the_demos_password_is_told_while_someone_signs_in_with_it(at_work: Settings) -> None:
    assert the_clock()
    person = make_person()
    assert checks.demo_passwords() == []
    person.set_password(PASSWORD)
    person.save()
    (told,) = checks.demo_passwords()
    assert person.email in told.msg
    Person.objects.update(is_active=False)
    assert checks.demo_passwords() == []


def test_an_object_store_without_a_secret_is_told_and_its_address_is_no_folder(
    settings: Settings,
) -> None:
    settings.DEBUG, settings.TESTING = False, False
    settings.SECOND_STORE = read_address("s3://elsewhere/site")
    assert codes() == {"strandline.E003"}
    settings.SECOND_STORE = read_address("s3://elsewhere/site", key_id="a", secret="b")
    assert codes() == set()
