"""The seal: what the database itself refuses."""

import pytest
from django.db import DatabaseError, connection, transaction

from registry.ledger import proof, seal
from registry.ledger.models import Entry
from registry.permissions import Role
from registry.questions import actions
from tests.worlds.people import make_person
from tests.worlds.questions import make_question

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.postgres,
]


def make_entries() -> list[Entry]:
    actions.park_question(make_question(), reason="no tank is free", by=make_person(Role.CURATOR))
    return list(Entry.objects.order_by("number"))


def run(statement: str, *given: object) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, given)


def refused(statement: str, *given: object) -> None:
    before = list(Entry.objects.order_by("number").values())
    with pytest.raises(DatabaseError, match="append-only"):
        run(statement, *given)
    assert list(Entry.objects.order_by("number").values()) == before


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("number", 999),
        ("at", "2020-01-01 00:00:00+00:00"),
        ("verb", "question.decline"),
        ("subject", "questions.question:999"),
        ("before", "declined"),
        ("after", "declined"),
        ("project_number", 7),
        ("text", "{}"),
        ("previous", "0" * 63 + "1"),
        ("digest", "0" * 64),
        ("reason", "another reason"),
        ("salt", "f" * 32),
        ("is_confidential", True),
    ],
)
def test_no_column_can_be_updated(column: str, value: object) -> None:
    last = make_entries()[-1]
    refused(f"UPDATE ledger_entry SET {column} = %s WHERE number = %s", value, last.number)


def test_the_actor_cannot_be_changed() -> None:
    last = make_entries()[-1]
    other = make_person()
    refused("UPDATE ledger_entry SET actor_id = %s WHERE number = %s", other.pk, last.number)


def test_no_entry_can_be_deleted_by_sql_or_by_the_orm() -> None:
    entries = make_entries()
    refused("DELETE FROM ledger_entry WHERE number = %s", entries[-1].number)
    refused("DELETE FROM ledger_entry")
    with pytest.raises(DatabaseError, match="append-only"):
        Entry.objects.all().delete()
    with pytest.raises(DatabaseError, match="append-only"):
        Entry.objects.filter(number=1).update(reason="mended")


def test_the_words_of_a_reason_can_be_erased_with_their_salt_and_the_chain_still_holds() -> None:
    last = make_entries()[-1]
    assert last.reason == "no tank is free"
    refused("UPDATE ledger_entry SET reason = '' WHERE number = %s", last.number)
    refused("UPDATE ledger_entry SET salt = '' WHERE number = %s", last.number)
    refused("UPDATE ledger_entry SET reason = '', salt = '', verb = 'x'")
    run("UPDATE ledger_entry SET reason = '', salt = '' WHERE number = %s", last.number)
    assert proof.check()[0] == []
    refused(
        "UPDATE ledger_entry SET reason = 'no tank is free', salt = %s WHERE number = %s",
        last.salt,
        last.number,
    )


_COLUMNS = (
    "number, at, verb, subject, actor_id, before, after, project_number, text, previous, digest, "
    "reason, salt, is_confidential"
)


def test_an_entry_cannot_be_put_in_the_place_of_another() -> None:
    last = make_entries()[-1]
    values = _COLUMNS.replace("verb", "'person.add'", 1)
    copy = f"SELECT {values} FROM ledger_entry WHERE number = %s"
    upsert = "ON CONFLICT (number) DO UPDATE SET verb = excluded.verb"
    refused(f"INSERT INTO ledger_entry ({_COLUMNS}) {copy} {upsert}", last.number)
    if connection.vendor == "sqlite":
        refused(f"INSERT OR REPLACE INTO ledger_entry ({_COLUMNS}) {copy}", last.number)
        refused(f"REPLACE INTO ledger_entry ({_COLUMNS}) {copy}", last.number)


def test_sqlite_replaces_nothing_by_its_own_row_number_either() -> None:
    if connection.vendor != "sqlite":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT count(*) FROM information_schema.columns WHERE "
                "table_name = 'ledger_entry' AND column_name = 'rowid'"
            )
            assert cursor.fetchone() == (0,)
        return
    first, last = make_entries()[0], make_entries()[-1]
    # Whoever tampers would open the file without our settings.
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA recursive_triggers = OFF")
    refused(
        "UPDATE OR REPLACE ledger_entry SET number = %s WHERE number = %s",
        first.number,
        last.number,
    )
    refused("UPDATE OR REPLACE ledger_entry SET rowid = 2 WHERE rowid = 1")
    values = _COLUMNS.replace("number", "9999", 1)
    refused(
        f"INSERT OR REPLACE INTO ledger_entry (rowid, {_COLUMNS}) "
        f"SELECT 1, {values} FROM ledger_entry WHERE number = %s",
        last.number,
    )


@pytest.mark.postgres(only=True)
def test_the_table_cannot_be_emptied_at_once() -> None:
    make_entries()
    refused("TRUNCATE ledger_entry")
    refused("TRUNCATE ledger_entry CASCADE")


def test_a_seal_that_was_taken_off_is_reported() -> None:
    make_entries()
    assert seal.is_on()
    with seal.opened():
        assert not seal.is_on()
        assert [fault.number for fault in proof.check()[0]] == [0]
    assert seal.is_on()
    assert proof.check()[0] == []
