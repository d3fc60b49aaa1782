"""The empty database of a test run: laid by the migrations once, and copied from then on.

The migrations take seconds, more than most runs of a few tests. What they make is the same until
one of them changes, so on SQLite it is kept in pytest's cache under a digest of all that makes it;
a run begins with a copy, and `migrate` finds nothing left to do. `--cache-clear` drops it.
"""

import hashlib
import os
import shutil
import sqlite3
import sys
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
_MADE_BY = ("django", "django-tasks-db", "django-allauth")


def _kept(config: pytest.Config) -> Path:
    """Give where the database is kept that these migrations make."""
    whole = hashlib.sha256(f"{sys.version}{[version(name) for name in _MADE_BY]}".encode())
    for path in sorted([*ROOT.glob("*/**/migrations/*.py"), ROOT / "registry/ledger/seal.py"]):
        whole.update(str(path.relative_to(ROOT)).encode() + path.read_bytes())
    assert config.cache is not None
    return config.cache.mkdir("laid") / f"{whole.hexdigest()[:16]}.sqlite3"


def _test_database() -> Path | None:
    from django.conf import settings  # noqa: PLC0415  # its variables are laid first

    one = settings.DATABASES["default"]
    return Path(one["TEST"]["NAME"]) if one["ENGINE"].endswith("sqlite3") else None


@pytest.fixture(scope="session")
def django_db_keepdb(
    request: pytest.FixtureRequest,
    django_db_modify_db_settings: None,  # a worker's own name comes first
) -> bool:
    """Lay the copy where there is one; the run's folder is temporary, so nothing is left over."""
    path = _test_database()
    if path is None or not (kept := _kept(request.config)).exists():
        return False
    shutil.copyfile(kept, path)
    return True


@pytest.fixture(scope="session")
def django_db_setup(
    request: pytest.FixtureRequest,
    django_db_setup: None,  # the one that runs the migrations
    django_db_keepdb: bool,  # whether it was a copy: then it is kept already
) -> None:
    """Keep what the migrations made; two workers at once make the same."""
    path = _test_database()
    if path is not None and not django_db_keepdb:
        kept = _kept(request.config)
        mine = kept.with_suffix(f".{os.getpid()}")
        with sqlite3.connect(path) as made:
            made.execute("VACUUM INTO ?", (str(mine),))
        made.close()
        for older in kept.parent.glob("*.sqlite3"):
            if older != kept:
                older.unlink(missing_ok=True)
        mine.replace(kept)


@pytest.fixture(scope="session")
def lay(request: pytest.FixtureRequest, django_db_setup: None) -> Callable[[Path], None]:
    """Give a way to lay the same empty database where a site of its own is to find it."""

    def lay_at(path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(_kept(request.config), path)

    return lay_at
