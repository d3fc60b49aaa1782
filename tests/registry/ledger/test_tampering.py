"""Every way to tamper with the ledger, by name: the database refuses it, or the check finds it.

For an auditor to read: the table says what is tried and what becomes of it. Whoever is found has
the seal off, as one who owns the database can. Details stand in test_seal.py and test_verify.py.
"""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from registry.ledger import seal
from registry.ledger.chain import START, canonical, digest_of
from registry.ledger.models import Entry
from registry.people.models import Standing
from registry.permissions import Role
from registry.questions import actions
from registry.questions.models import Question
from tests.worlds.people import make_person
from tests.worlds.questions import make_question

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]

COLUMNS = (
    "number, at, verb, subject, actor_id, before, after, project_number, text, previous, digest, "
    "reason, salt, is_confidential"
)


def run(statement: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)


def sql(statement: str) -> Callable[[], None]:
    """Give a tampering by one statement; LAST stands for the number of the last entry."""
    return lambda: run(statement.replace("LAST", str(Entry.objects.order_by("number").last().pk)))  # type: ignore[union-attr]  # why: there are entries


def copied(**change: str) -> str:
    """Give a select of the last entry with some of its columns changed."""
    columns = [change.get(name, name) for name in COLUMNS.split(", ")]
    return f"SELECT {', '.join(columns)} FROM ledger_entry WHERE number = LAST"


def recompute(first: int = 1) -> None:
    """Change what the second entry says, and make the whole chain anew, so that it holds."""
    previous = START
    for entry in Entry.objects.order_by("number"):
        facts = entry.facts
        if entry.number == first + 1:
            facts["verb"] = entry.verb = "person.induct"
        entry.text, entry.previous = canonical(facts), previous
        previous = entry.digest = digest_of(entry.text, previous)
        entry.save()


def forge(number: int, *, is_chained: bool) -> None:
    """Write an entry that no deed made."""
    last = Entry.objects.order_by("number").last()
    assert last is not None
    facts = {**last.facts, "number": number, "verb": "question.decline", "after": "declined"}
    facts["reason"] = ""
    text = canonical(facts)
    previous = last.digest if is_chained else "0" * 64
    Entry.objects.create(
        number=number,
        at=last.at,
        verb="question.decline",
        subject=last.subject,
        actor=last.actor,
        before=last.before,
        after="declined",
        text=text,
        previous=previous,
        digest=digest_of(text, previous),
    )


def rewrite() -> None:
    """Re-write a row by the ORM, past the deeds."""
    Question.objects.update(title="Something else?")


def smuggle() -> None:
    """Give someone a standing by the ORM, past the deeds."""
    Standing.objects.create(person=Standing.objects.all()[0].person, role=Role.ADMINISTRATOR)


@dataclass(frozen=True)
class Tampering:
    """What is tried, and how it ends."""

    done: Callable[[], object]
    found: str = ""
    by: tuple[str, ...] = ()
    only_on: str = ""
    needs_seal_off: bool = True


REFUSED: dict[str, Tampering] = {
    "an entry is updated": Tampering(sql("UPDATE ledger_entry SET verb = 'x' WHERE number = LAST")),
    "an entry is updated by the ORM": Tampering(lambda: Entry.objects.update(verb="x")),
    "a reason is put in the place of another": Tampering(
        sql("UPDATE ledger_entry SET reason = 'x' WHERE number = LAST")
    ),
    "an entry is deleted": Tampering(sql("DELETE FROM ledger_entry WHERE number = LAST")),
    "an entry is deleted by the ORM": Tampering(lambda: Entry.objects.get(number=2).delete()),
    "every entry is deleted": Tampering(sql("DELETE FROM ledger_entry")),
    "the tail is cut off": Tampering(sql("DELETE FROM ledger_entry WHERE number > 2")),
    "an entry is put on another by an upsert": Tampering(
        sql(
            f"INSERT INTO ledger_entry ({COLUMNS}) {copied(verb=chr(39) + 'x' + chr(39))} "
            "ON CONFLICT (number) DO UPDATE SET verb = excluded.verb"
        )
    ),
    "INSERT OR REPLACE": Tampering(
        sql(f"INSERT OR REPLACE INTO ledger_entry ({COLUMNS}) {copied()}"), only_on="sqlite"
    ),
    "UPDATE OR REPLACE": Tampering(
        sql("UPDATE OR REPLACE ledger_entry SET number = 1 WHERE number = LAST"),
        only_on="sqlite",
    ),
    "TRUNCATE": Tampering(sql("TRUNCATE ledger_entry"), only_on="postgresql"),
    "TRUNCATE by way of another table": Tampering(
        sql("TRUNCATE people_person CASCADE"), only_on="postgresql"
    ),
}
FOUND: dict[str, Tampering] = {
    "an entry's text is updated": Tampering(
        lambda: Entry.objects.filter(number=2).update(text="{}"), "its text was altered"
    ),
    "an entry's column is updated": Tampering(
        lambda: Entry.objects.filter(number=2).update(verb="question.decline"),
        "its column “verb” differs",
    ),
    "an entry is deleted from the middle": Tampering(
        lambda: Entry.objects.filter(number=3).delete(), "entries 3 to 3 are missing"
    ),
    "the first entry is deleted": Tampering(
        lambda: Entry.objects.filter(number=1).delete(), "entries 1 to 1 are missing"
    ),
    "a forged entry is inserted at the end": Tampering(
        lambda: forge(Entry.objects.count() + 1, is_chained=False),
        "it does not follow the entry before it",
        needs_seal_off=False,
    ),
    "a forged entry is inserted at the end, its digests made to fit": Tampering(
        lambda: forge(Entry.objects.count() + 1, is_chained=True),
        "to “declined”, and that is “parked”",
        ("--subjects",),
        needs_seal_off=False,
    ),
    "a forged entry is inserted behind a gap": Tampering(
        lambda: forge(900, is_chained=True), "are missing", needs_seal_off=False
    ),
    "the tail is cut off with the seal off": Tampering(
        lambda: Entry.objects.filter(number__gt=3).delete(),
        "the entry whose digest is kept elsewhere is missing",
        ("--anchor",),
    ),
    "every entry is deleted with the seal off": Tampering(
        lambda: Entry.objects.all().delete(),
        "the entry whose digest is kept elsewhere is missing",
        ("--anchor",),
    ),
    "the chain is recomputed": Tampering(
        recompute, "it differs from the digest kept elsewhere", ("--anchor",)
    ),
    "a row is re-written by the ORM": Tampering(
        rewrite, "was re-written since, by no deed", ("--subjects",), needs_seal_off=False
    ),
    "a row is deleted": Tampering(
        lambda: Standing.objects.filter(pk=Standing.objects.all()[0].pk).delete(),
        "vanished",
        ("--subjects",),
        needs_seal_off=False,
    ),
    "a row is smuggled in": Tampering(
        smuggle, "was written by no deed", ("--subjects",), needs_seal_off=False
    ),
}


@pytest.fixture
def anchor(tmp_path: Path) -> str:
    """Make a short history, and keep its head elsewhere."""
    actions.park_question(make_question(), reason="no tank", by=make_person(Role.CURATOR))
    path = tmp_path / "head.txt"
    path.write_text(verified()[1], encoding="utf-8")
    return str(path)


def verified(*options: str) -> tuple[bool, str]:
    """Run the command, and give whether it holds and what it says."""
    out, err = StringIO(), StringIO()
    try:
        call_command("verify_ledger", *options, stdout=out, stderr=err)
    except CommandError as problem:
        return False, f"{out.getvalue()}{err.getvalue()}{problem}"
    return True, out.getvalue()


def skip_elsewhere(tampering: Tampering) -> bool:
    """Say whether this database does not know the statement."""
    return tampering.only_on not in {"", connection.vendor}


@pytest.mark.parametrize("name", REFUSED)
def test_the_database_refuses_when(name: str, anchor: str) -> None:
    tampering = REFUSED[name]
    before = list(Entry.objects.order_by("number").values())
    # A database that does not know the statement refuses it too, in other words.
    said = None if skip_elsewhere(tampering) else "append-only"
    with pytest.raises(DatabaseError, match=said):
        tampering.done()
    assert list(Entry.objects.order_by("number").values()) == before
    assert verified("--subjects", "--anchor", anchor)[0]


@pytest.mark.parametrize("name", FOUND)
def test_the_check_finds_that(name: str, anchor: str) -> None:
    tampering = FOUND[name]
    assert verified("--subjects", "--anchor", anchor)[0]
    door: AbstractContextManager[None] = (
        seal.opened() if tampering.needs_seal_off else nullcontext()
    )
    with door:
        tampering.done()
    options = [part for one in tampering.by for part in (one, *[anchor] * (one == "--anchor"))]
    holds, told = verified(*options)
    assert not holds
    assert tampering.found in told
