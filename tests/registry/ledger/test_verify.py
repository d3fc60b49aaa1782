"""The command that verifies the ledger, against a person who can write to the database."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from registry.ledger import proof, seal
from registry.ledger.chain import START, canonical, digest_of
from registry.ledger.models import Entry
from registry.people import actions as people
from registry.people.models import Person, Standing
from registry.permissions import Role
from registry.questions import actions
from registry.questions.models import Interest, Question
from tests.worlds.people import make_body, make_person
from tests.worlds.questions import make_question, make_taken_on

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def verify(*options: str) -> tuple[bool, str]:
    out, err = StringIO(), StringIO()
    try:
        call_command("verify_ledger", *options, stdout=out, stderr=err)
    except CommandError as problem:
        return False, f"{out.getvalue()}{err.getvalue()}{problem}"
    return True, out.getvalue()


def kept(path: Path) -> str:
    path.write_text(verify()[1], encoding="utf-8")
    return str(path)


def make_history() -> Question:
    make_body()
    question = make_taken_on()
    actions.like_question(question, note="", by=make_person(Role.STUDENT))
    return question


def test_a_ledger_that_nobody_altered_holds_and_its_head_is_printed(tmp_path: Path) -> None:
    make_history()
    last = Entry.objects.order_by("number").last()
    assert last is not None
    holds, said = verify("--subjects", "--anchor", kept(tmp_path / "head"))
    assert holds
    assert said.endswith(f"head {last.number} {last.digest}\n")


def test_an_empty_ledger_holds() -> None:
    assert verify("--subjects") == (True, "0 entries, 0 rows read\nno head\n")


def test_an_altered_text_is_found() -> None:
    make_history()
    with seal.opened():
        text = Entry.objects.get(number=3).text
        Entry.objects.filter(number=3).update(text=text.replace("verb", "werb"))
    holds, said = verify()
    assert not holds
    assert "entry 3: its text was altered" in said


@pytest.mark.parametrize(
    "change",
    [
        {"verb": "question.decline"},
        {"subject": "questions.question:77"},
        {"before": "declined"},
        {"after": "declined"},
        {"project_number": 9},
        {"is_confidential": True},
        {"reason": "another reason"},
        {"reason": ""},
    ],
)
def test_a_column_that_says_otherwise_than_the_text_is_found(change: dict[str, object]) -> None:
    make_history()
    number = Entry.objects.get(verb="question.take_on").number
    with seal.opened():
        Entry.objects.filter(number=number).update(**change)
    holds, said = verify()
    assert not holds
    assert f"entry {number}: its" in said


def test_a_deleted_entry_is_found() -> None:
    make_history()
    with seal.opened():
        Entry.objects.filter(number=4).delete()
    holds, said = verify()
    assert not holds
    assert "entries 4 to 4 are missing" in said


def test_a_tail_that_was_cut_off_is_found_with_an_anchor(tmp_path: Path) -> None:
    make_history()
    head = kept(tmp_path / "head")
    with seal.opened():
        Entry.objects.filter(number__gt=5).delete()
    assert verify()[0]
    holds, said = verify("--anchor", head)
    assert not holds
    assert "the entry whose digest is kept elsewhere is missing" in said


def test_a_recomputed_chain_is_found_with_an_anchor(tmp_path: Path) -> None:
    make_history()
    head = kept(tmp_path / "head")
    with seal.opened():
        previous = START
        for entry in Entry.objects.order_by("number"):
            facts = entry.facts
            if entry.number == 2:
                facts["verb"] = entry.verb = "person.induct"
            entry.text, entry.previous = canonical(facts), previous
            previous = entry.digest = digest_of(entry.text, previous)
            entry.save()
    assert verify()[0]
    holds, said = verify("--anchor", head)
    assert not holds
    assert "it differs from the digest kept elsewhere" in said


def test_an_anchor_is_read_from_the_commands_own_words_or_from_json(tmp_path: Path) -> None:
    make_history()
    last = Entry.objects.order_by("number").last()
    assert last is not None
    path = tmp_path / "anchor.json"
    path.write_text(json.dumps({"digest": last.digest, "number": last.number}), encoding="utf-8")
    assert verify("--anchor", str(path))[0]
    path.write_text(json.dumps({"digest": "0" * 64, "number": last.number}), encoding="utf-8")
    assert not verify("--anchor", str(path))[0]
    kept_in = {"name": "rays", "x:ledger": {"digest": last.digest, "number": last.number}}
    path.write_text(json.dumps(kept_in), encoding="utf-8")
    assert verify("--anchor", str(path))[0]
    path.write_text("nothing of use", encoding="utf-8")
    with pytest.raises(CommandError, match="holds no number and digest"):
        call_command("verify_ledger", "--anchor", str(path))
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("verify_ledger", "--anchor", str(tmp_path / "none"))


def test_a_row_that_was_rewritten_past_the_deeds_is_found_with_subjects() -> None:
    question = make_history()
    Question.objects.filter(pk=question.pk).update(title="Something else?")
    assert verify()[0]
    holds, said = verify("--subjects")
    assert not holds
    assert f"questions.question:{question.pk} was re-written since, by no deed" in said


def test_a_row_that_a_deed_only_touched_is_compared_too() -> None:
    make_history()
    interest = Interest.objects.get()
    Interest.objects.filter(pk=interest.pk).update(note="I never said this")
    holds, said = verify("--subjects")
    assert not holds
    assert f"questions.interest:{interest.pk} was re-written" in said


def test_a_standing_that_was_lengthened_past_the_deeds_is_found() -> None:
    administrator, keeper = make_person(Role.ADMINISTRATOR), make_person(Role.KEEPER)
    people.end_standing(keeper, role=Role.KEEPER, reason="left", by=administrator)
    assert verify("--subjects")[0]
    Standing.objects.filter(person=keeper).update(ended_on=None)
    holds, said = verify("--subjects")
    assert not holds
    assert "people.standing:" in said


def test_a_row_that_vanished_is_found() -> None:
    make_history()
    interest = Interest.objects.get()
    Interest.objects.filter(pk=interest.pk).delete()
    holds, said = verify("--subjects")
    assert not holds
    assert f"questions.interest:{interest.pk} vanished" in said


def test_a_row_that_was_smuggled_in_is_found() -> None:
    make_history()
    keeper = make_person(Role.KEEPER)
    assert verify("--subjects")[0]
    smuggled = Standing.objects.create(person=keeper, role=Role.ADMINISTRATOR)
    holds, said = verify("--subjects")
    assert not holds
    assert f"people.standing:{smuggled.pk} was written by no deed" in said


def test_signing_in_and_a_new_password_are_no_tampering() -> None:
    person = make_person(Role.KEEPER)
    person.set_password("another tide")
    person.last_login = person.added_at
    person.save(update_fields=["password", "last_login"])
    assert verify("--subjects")[0]
    Person.objects.filter(pk=person.pk).update(email="other@skerrywick.example")
    assert not verify("--subjects")[0]


def test_what_it_compares_is_the_newest_entry_of_each_row() -> None:
    question = make_question()
    curator = make_person(Role.CURATOR)
    actions.park_question(question, reason="later", by=curator)
    actions.reopen_question(question, reason="now", by=curator)
    found, reading = proof.check(with_subjects=True)
    assert found == []
    assert reading.newest[f"questions.question:{question.pk}"][0] == reading.entries
