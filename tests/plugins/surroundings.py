"""What a test run stands in, laid before Django reads its settings.

Nothing of the caller's own site is touched: every folder is a temporary one. The database is
SQLite; with `--postgres` (or `-m postgres`) it is a temporary PostgreSQL server, and a
STRANDLINE_DATABASE that names a PostgreSQL server is used as it is.
"""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.plugins import network, postgres

pytest_plugins = ["tests.plugins.counts"]

KEPT = {"STRANDLINE_SUITES", "STRANDLINE_DATABASE", "STRANDLINE_ENGINE"}
_stack = ExitStack()


def _lay(early: pytest.Config) -> None:
    """Set every variable that the settings read, and bring the database server."""
    for name in [name for name in os.environ if name.startswith("STRANDLINE_")]:
        if name not in KEPT:
            del os.environ[name]
    home = Path(tempfile.mkdtemp(prefix="strandline-test-"))
    _stack.callback(shutil.rmtree, home, ignore_errors=True)
    os.environ["STRANDLINE_TESTING"] = "yes"
    os.environ["STRANDLINE_VAR"] = str(home)
    os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = str(home / "hypothesis")
    said = os.environ.get("STRANDLINE_DATABASE", "")
    asked = early.known_args_namespace
    if said.startswith("postgres"):
        return
    os.environ["STRANDLINE_DATABASE"] = f"sqlite://{home}/strandline.sqlite3"
    if asked.postgres or asked.markexpr == "postgres":
        try:
            os.environ["STRANDLINE_DATABASE"] = _stack.enter_context(postgres.cluster())
        except postgres.NoServer as none:
            raise pytest.UsageError(str(none)) from none


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the one switch."""
    parser.getgroup("strandline").addoption(
        "--postgres", action="store_true", help="run on a temporary PostgreSQL server"
    )


@pytest.hookimpl(wrapper=True)
def pytest_load_initial_conftests(early_config: pytest.Config) -> Iterator[None]:
    """Lay the surroundings: a wrapper, for Django's own plugin must not be first."""
    early_config.add_cleanup(_stack.close)
    _lay(early_config)
    return (yield)


def pytest_configure(config: pytest.Config) -> None:
    """Keep calls inside the machine and the browser's leavings out of the checkout."""
    patch = pytest.MonkeyPatch()
    config.add_cleanup(patch.undo)
    network.guard(patch)
    config.option.output = str(Path(os.environ["STRANDLINE_VAR"], "browser"))


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what only PostgreSQL can show, where it is not the database."""
    if os.environ["STRANDLINE_DATABASE"].startswith("postgres"):
        return
    only = [
        item
        for item in items
        if (mark := item.get_closest_marker("postgres")) and mark.kwargs.get("only")
    ]
    if only:
        config.hook.pytest_deselected(items=only)
        items[:] = [item for item in items if item not in only]
