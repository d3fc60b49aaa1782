"""The morning's mail: once a day to each, nothing confidential, switched off at one press.

Sources: RFC 8058 (List-Unsubscribe-Post: one link, asked by POST, without a cookie), RFC 2369,
section 3.2 (List-Unsubscribe), RFC 3834, section 5 (Auto-Submitted). Contents from memory.
"""

import email.policy
import io
import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from smtplib import SMTPDataError, SMTPServerDisconnected
from typing import Any

import pytest
import time_machine
from django.core.mail import EmailMessage
from django.core.management import CommandError, call_command
from django.tasks import TaskResultStatus
from django.test import Client
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from archive.tasks import check_deposit
from registry.desk import mornings, posting
from registry.desk.letters import choose, digest_of, off_link
from registry.desk.models import MailChoice, Morning
from registry.oversight.actions import raise_concern
from registry.people.models import Person
from registry.permissions import Role
from registry.questions.actions import park_question
from tests.worlds.animals import make_animal, make_restriction
from tests.worlds.approvals import make_asked, make_collecting
from tests.worlds.oversight import make_planned_session
from tests.worlds.people import fresh, make_person
from tests.worlds.questions import make_question

pytestmark = pytest.mark.django_db
Box = list[EmailMessage]


def today() -> date:
    return timezone.localdate()


def a_day_ago() -> Any:
    return timezone.now() - timedelta(days=1)


def letters_to(person: Person, box: Sequence[EmailMessage]) -> list[EmailMessage]:
    return [letter for letter in box if letter.to == [person.email]]


def unfolded(letter: EmailMessage) -> str:
    return str(letter.body).replace("\n  ", " ")


def test_a_letter_says_what_needs_one_why_and_where_and_what_changed(mailoutbox: Box) -> None:
    curator, vet = make_person(Role.CURATOR), make_person(Role.VET)
    with time_machine.travel(timezone.now() - timedelta(days=12), tick=False):
        late = make_question(title="An old one,\nwith a second line?")
    new = make_question(title="A new one?")
    park_question(make_question(title="A third?"), reason="no tank", by=curator)
    mornings.send_all(today())
    (letter,) = letters_to(curator, mailoutbox)
    assert letter.subject == "2 things need you, 1 late"
    body = letter.body
    assert f"http://localhost:8000{late.get_absolute_url()}" in body
    assert f"http://localhost:8000{new.get_absolute_url()}" in body
    assert re.search(r"LATE, due \d+ \w+ \d{4}: A question waits", body)
    assert all(len(line) <= 78 or "http" in line for line in body.splitlines())
    (other,) = letters_to(vet, mailoutbox)
    assert "Parked: A third?" in other.body
    assert other.subject.startswith("Nothing needs you; ")
    assert new.title not in other.subject + letter.subject


@pytest.mark.postgres
def test_nobody_is_written_to_twice_for_a_day(mailoutbox: Box) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    assert mornings.send_all(today())["sent"] >= 1
    assert mornings.send_all(today())["sent"] == 0
    assert mornings.send_to(curator, today()) == ""
    assert len(letters_to(curator, mailoutbox)) == 1
    mornings.send_all(today() + timedelta(days=1))
    assert len(letters_to(curator, mailoutbox)) == 2


def test_a_letter_that_was_claimed_and_never_settled_is_not_sent_again(mailoutbox: Box) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    Morning.objects.create(person=curator, day=today(), outcome=Morning.Outcome.CLAIMED)
    mornings.send_all(today())
    assert letters_to(curator, mailoutbox) == []


class Mailer:
    """A mail server that does what it is told for each letter."""

    def __init__(self, faults: list[Exception | None], opens: bool = True) -> None:
        self.faults, self.opens = faults, opens
        self.taken: Box = []

    @property
    def default(self) -> "Mailer":
        return self

    def open(self) -> None:
        if not self.opens:
            raise ConnectionRefusedError("nobody listens")

    def close(self) -> None:
        raise SMTPServerDisconnected("gone")

    def send_messages(self, letters: Box) -> int:
        if self.faults and (fault := self.faults.pop(0)):
            raise fault
        self.taken += letters
        return len(letters)


@pytest.fixture
def through(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Mailer]:
    def put(*faults: Exception | None, opens: bool = True) -> Mailer:
        mailer = Mailer(list(faults), opens)
        monkeypatch.setattr(posting, "mailers", mailer)
        return mailer

    return put


def again(person: Person) -> str:
    """Come by once more, after the wait."""
    with time_machine.travel(timezone.now() + 2 * posting.WAIT, tick=False):
        return mornings.send_to(person, today())


def test_a_refused_letter_is_tried_again_and_goes_out_once(
    through: Callable[..., Mailer],
) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    mailer = through(SMTPDataError(451, b"try later"))
    assert mornings.send_to(curator, today()) == "refused"
    assert curator not in mornings.waiting_on(today())  # it is given a rest first
    assert again(curator) == "sent"
    assert again(curator) == ""
    assert len(mailer.taken) == 1


def test_a_letter_refused_three_times_is_given_up_and_the_command_says_so(
    through: Callable[..., Mailer],
) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    through(opens=False)
    said = [mornings.send_to(curator, today()), again(curator), again(curator), again(curator)]
    assert said == ["refused", "refused", "given_up", ""]
    out = io.StringIO()
    call_command("send_digests", stdout=out)
    assert f"{curator.name}: not taken, and given up. ConnectionRefusedError" in out.getvalue()


def test_what_broke_off_while_it_was_sent_is_not_sent_again(
    through: Callable[..., Mailer],
) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    through(SMTPServerDisconnected("in the middle"))
    assert mornings.send_to(curator, today()) == "unknown"
    assert again(curator) == ""


def test_a_fault_in_one_letter_does_not_silence_the_others(
    monkeypatch: pytest.MonkeyPatch, mailoutbox: Box
) -> None:
    broken, well = make_person(Role.CURATOR), make_person(Role.CURATOR)
    make_question()

    def write(person: Person, *rest: Any) -> Any:
        if person == broken:
            raise LookupError("no such row")
        return digest_of(person, *rest)

    monkeypatch.setattr(mornings, "digest_of", write)
    mornings.send_all(today())
    assert len(letters_to(well, mailoutbox)) == 1
    assert Morning.objects.get(person=broken).fault == "LookupError: no such row"


def test_who_is_inactive_or_chose_never_or_has_nothing_is_not_written_to(mailoutbox: Box) -> None:
    gone, never, idle = (make_person(Role.CURATOR) for _ in range(3))
    Person.objects.filter(pk=gone.pk).update(is_active=False)
    choose(never, "never")
    mornings.send_all(today())
    assert letters_to(idle, mailoutbox) == []
    make_question()
    mornings.send_all(today() + timedelta(days=1))
    assert [len(letters_to(one, mailoutbox)) for one in (gone, never, idle)] == [0, 0, 1]


def test_only_when_due_waits_for_something_late_or_due_within_two_days(mailoutbox: Box) -> None:
    curator = make_person(Role.CURATOR)
    choose(curator, "due")
    make_restriction(make_animal(name="Morwen"), expected_end_on=today() + timedelta(days=9))
    question = make_question()
    mornings.send_all(today())
    assert letters_to(curator, mailoutbox) == []
    for days, number in ((7, 0), (8, 1)):  # a question is due ten days after it was posted
        with time_machine.travel(timezone.now() + timedelta(days=days), tick=False):
            mornings.send_all(today())
            assert len(letters_to(curator, mailoutbox)) == number
    assert question.title in unfolded(letters_to(curator, mailoutbox)[0])


def test_a_concern_is_counted_and_not_told(mailoutbox: Box) -> None:
    vet = make_person(Role.VET)
    raise_concern(text="A ray is thin.", by=make_person(Role.KEEPER))
    mornings.send_all(today())
    (letter,) = letters_to(vet, mailoutbox)
    assert letter.subject == "1 thing needs you"
    assert "1 thing is not told by mail" in letter.body
    assert "oncern" not in letter.body
    assert "ray" not in letter.body


@pytest.mark.postgres
def test_a_letter_tells_nobody_what_today_would_not_show_them(mailoutbox: Box) -> None:
    approval, chair, _ = make_asked()
    world = make_collecting()
    session = make_planned_session(world)
    stranger = make_person(Role.STUDENT)
    mornings.send_all(today())
    assert approval.title in unfolded(letters_to(chair, mailoutbox)[0])
    assert session.code in letters_to(world.student, mailoutbox)[0].body
    for letter in letters_to(stranger, mailoutbox):
        assert approval.title not in unfolded(letter)
        assert f"Session {session.code}" not in letter.body


# ------------------------------------------------------------------------------- switching off


def test_one_press_switches_the_letters_off_without_signing_in() -> None:
    client = Client(enforce_csrf_checks=True)
    person = make_person(Role.KEEPER)
    message = digest_of(person, today(), a_day_ago()).message
    heads = message.message()
    # RFC 8058, section 2: both heads; the link alone, in angle brackets.
    link = re.fullmatch(r"<(http\S+)>", heads["List-Unsubscribe"].replace("\n", "").strip())
    assert link is not None
    assert heads["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert heads["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
    raw = message.message(policy=email.policy.SMTP).as_bytes()
    assert f"\r\nList-Unsubscribe: <{link[1]}>\r\n".encode() in raw  # neither folded nor encoded
    assert max(map(len, raw.splitlines())) <= 998  # RFC 5322, section 2.1.1
    path = link[1].removeprefix("http://localhost:8000")
    asked = client.get(path)
    assert asked.status_code == 200
    assert b"<button>" in asked.content
    assert not MailChoice.objects.exists()  # a look changes nothing: scanners follow links
    # Section 3.2: the body that a mail program sends.
    sent = client.post(
        path, "List-Unsubscribe=One-Click", content_type="application/x-www-form-urlencoded"
    )
    assert sent.status_code == 200
    assert MailChoice.objects.get(person=person).how == "never"
    assert client.post(path).status_code == 200


@pytest.mark.parametrize("signed", ["1", "1:x", "x:y", "0" * 400, "%00", "1:" + "a" * 43])
def test_a_link_that_was_not_signed_here_switches_nothing_off(client: Client, signed: str) -> None:
    make_person(Role.KEEPER)
    for ask in (client.get, client.post):
        assert ask(f"/morning/off/{signed}/").status_code in {400, 404}
    assert not MailChoice.objects.exists()


def test_a_link_of_one_person_is_not_the_link_of_another() -> None:
    one, other = make_person(), make_person()
    assert off_link(one) != off_link(other)


def test_one_chooses_on_ones_own_page(client: Client) -> None:
    person = make_person(Role.KEEPER)
    client.force_login(person)
    assert "/morning/" in client.get(person.get_absolute_url()).content.decode()
    page = client.get("/morning/").content.decode()
    assert re.search(r'value="daily"[^>]*checked', page)
    assert client.post("/morning/", {"how": "due"}).status_code == 302
    assert re.search(r'value="due"[^>]*checked', client.get("/morning/").content.decode())
    assert client.post("/morning/", {"how": "hourly"}).status_code == 422
    assert MailChoice.objects.get(person=person).how == "due"


# ------------------------------------------------------------------------------- the clock


def test_the_clock_queues_the_letters_once_their_hour_has_come(
    settings: Any, mailoutbox: Box
) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    dawn = timezone.localtime().replace(hour=5, minute=59)
    with time_machine.travel(dawn, tick=False):
        assert not mornings.enqueue_when_due()
    with time_machine.travel(dawn + timedelta(minutes=2), tick=False):
        assert mornings.enqueue_when_due()
        assert not mornings.enqueue_when_due()  # it is queued already
        assert DBTaskResult.objects.count() == 1
        assert mornings.send_mornings.call(str(today())) == "1 nothing, 1 sent"
        assert len(letters_to(fresh(curator), mailoutbox)) == 1
        assert not mornings.enqueue_when_due()  # nobody waits
    settings.DIGEST_HOUR = 22
    with time_machine.travel(dawn + timedelta(days=1, hours=5), tick=False):
        assert not mornings.enqueue_when_due()


def test_letters_are_written_in_turns_and_a_check_that_is_queued_meanwhile_comes_first(
    monkeypatch: pytest.MonkeyPatch, mailoutbox: Box
) -> None:
    monkeypatch.setattr(mornings, "AT_ONCE_S", -1.0)
    people = [make_person(Role.CURATOR) for _ in range(3)]
    make_question()
    waiting = len(mornings.waiting_on(today()))
    mornings.send_mornings.enqueue(str(today()))
    told = []
    while (turn := DBTaskResult.objects.ready().first()) is not None:
        if len(told) == 1:
            check_deposit.enqueue(0, 1)
            assert [one.task_path for one in DBTaskResult.objects.ready()] == [
                check_deposit.module_path,
                mornings.send_mornings.module_path,
            ]
            DBTaskResult.objects.filter(task_path=check_deposit.module_path).delete()
        DBTaskResult.objects.filter(pk=turn.pk).update(status=TaskResultStatus.SUCCESSFUL)
        told.append(mornings.send_mornings.call(*turn.args_kwargs["args"]))
    assert len(told) == waiting
    assert [len(letters_to(one, mailoutbox)) for one in people] == [1, 1, 1]


def test_the_command_sends_a_days_letters_and_refuses_what_is_no_day(mailoutbox: Box) -> None:
    curator = make_person(Role.CURATOR)
    make_question()
    out = io.StringIO()
    call_command("send_digests", on=str(today()), stdout=out)
    assert "sent" in out.getvalue()
    assert len(letters_to(curator, mailoutbox)) == 1
    call_command("send_digests", on=str(today()), stdout=out)
    assert "nobody waited" in out.getvalue()
    with pytest.raises(CommandError, match="“soon” is no day"):
        call_command("send_digests", on="soon")
