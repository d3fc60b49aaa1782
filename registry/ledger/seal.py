"""The seal: database triggers that refuse any change of what was recorded.

One exception, for the law: the words of a reason may be erased (set to nothing) with their salt;
the chain holds their salted digest and still verifies.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection

TABLE = "ledger_entry"
_SAID = "the ledger is append-only"
_KEPT = (
    "number",
    "at",
    "verb",
    "subject",
    "actor_id",
    "before",
    "after",
    "project_number",
    "text",
    "previous",
    "digest",
    "is_confidential",
)

# OR REPLACE deletes without asking the delete trigger, by the number or by SQLite's own row number.
_SQLITE = (
    f"""CREATE TRIGGER {TABLE}_no_update BEFORE UPDATE ON {TABLE}
        WHEN NEW.reason <> '' OR NEW.salt <> '' OR NEW.rowid IS NOT OLD.rowid
          OR {" OR ".join(f"NEW.{name} IS NOT OLD.{name}" for name in _KEPT)}
        BEGIN SELECT RAISE(ABORT, '{_SAID}'); END""",
    f"""CREATE TRIGGER {TABLE}_no_delete BEFORE DELETE ON {TABLE}
        BEGIN SELECT RAISE(ABORT, '{_SAID}'); END""",
    f"""CREATE TRIGGER {TABLE}_no_replace BEFORE INSERT ON {TABLE}
        WHEN EXISTS (SELECT 1 FROM {TABLE} WHERE number = NEW.number OR rowid = NEW.rowid)
        BEGIN SELECT RAISE(ABORT, '{_SAID}'); END""",
)
_SQLITE_NAMES = ("no_update", "no_delete", "no_replace")
_SQLITE_OFF = tuple(f"DROP TRIGGER IF EXISTS {TABLE}_{name}" for name in _SQLITE_NAMES)

_POSTGRES = (
    f"""CREATE OR REPLACE FUNCTION {TABLE}_refuse() RETURNS trigger AS $$
        BEGIN RAISE EXCEPTION '{_SAID}'; END $$ LANGUAGE plpgsql""",
    f"""CREATE TRIGGER {TABLE}_no_update BEFORE UPDATE ON {TABLE} FOR EACH ROW
        WHEN (NEW.reason <> '' OR NEW.salt <> ''
          OR {" OR ".join(f"NEW.{name} IS DISTINCT FROM OLD.{name}" for name in _KEPT)})
        EXECUTE FUNCTION {TABLE}_refuse()""",
    f"""CREATE TRIGGER {TABLE}_no_delete BEFORE DELETE ON {TABLE} FOR EACH ROW
        EXECUTE FUNCTION {TABLE}_refuse()""",
    f"""CREATE TRIGGER {TABLE}_no_truncate BEFORE TRUNCATE ON {TABLE} FOR EACH STATEMENT
        EXECUTE FUNCTION {TABLE}_refuse()""",
)
_POSTGRES_NAMES = ("no_update", "no_delete", "no_truncate")
_POSTGRES_OFF = tuple(
    f"DROP TRIGGER IF EXISTS {TABLE}_{name} ON {TABLE}" for name in _POSTGRES_NAMES
)


def _run(statements: tuple[str, ...]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def take_off() -> None:
    """Remove the triggers; only for a database that is about to be emptied by its own tests."""
    _run(_SQLITE_OFF if connection.vendor == "sqlite" else _POSTGRES_OFF)


def put_on(**_: Any) -> None:
    """Install the triggers anew; harmless when they are there."""
    if TABLE not in connection.introspection.table_names():
        return
    take_off()
    _run(_SQLITE if connection.vendor == "sqlite" else _POSTGRES)


def is_on() -> bool:
    """Say whether every trigger is there and enabled."""
    if connection.vendor == "sqlite":
        names, asked = _SQLITE_NAMES, "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        names, asked = _POSTGRES_NAMES, "SELECT tgname FROM pg_trigger WHERE tgenabled <> 'D'"
    with connection.cursor() as cursor:
        cursor.execute(asked)
        found = {row[0] for row in cursor.fetchall()}
    return found >= {f"{TABLE}_{name}" for name in names}


@contextmanager
def opened() -> Iterator[None]:
    """Open the seal for the length of a block, for tests that flush tables."""
    take_off()
    try:
        yield
    finally:
        put_on()
