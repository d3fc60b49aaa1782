"""Deeds and pages about concerns."""

import re

import pytest
from django.test import Client

from registry.errors import Conflict, NotPermitted, Unseen, Unsound
from registry.ledger.models import Entry
from registry.oversight.actions import concerns as actions
from registry.oversight.models import Concern
from registry.people.models import Person, the_clock
from registry.permissions import Role, Verb, Visitor, allowed, may
from tests.worlds.people import make_body, make_person

pytestmark = pytest.mark.django_db


def _seen_by(person: Person) -> list[Concern]:
    return list(allowed(Concern.objects.all(), person, Verb.CONCERN_SEE))


def test_nobody_by_name_can_raise_one_and_the_clock_records_it() -> None:
    concern, code = actions.raise_concern(text="The ray is pale.", by=Visitor())
    assert concern.raiser is None
    assert concern.follow_up_digest == actions.digest_of_code(f" {code.upper()} ")
    entry = Entry.objects.get(verb="concern.raise")
    assert (entry.actor, entry.is_confidential) == (the_clock(), True)


def test_someone_signed_in_may_leave_their_name_out() -> None:
    student = make_person(Role.STUDENT)
    named, _ = actions.raise_concern(text="one", by=student)
    nameless, _ = actions.raise_concern(text="two", is_anonymous=True, by=student)
    assert (named.raiser, nameless.raiser) == (student, None)
    assert _seen_by(student) == [named]
    assert not Entry.objects.filter(subject=f"oversight.concern:{nameless.pk}", actor=student)


def test_a_concern_about_the_vet_or_a_chair_bypasses_that_person() -> None:
    _, chair, member = make_body()
    vet, other_vet = make_person(Role.VET), make_person(Role.VET)
    about_vet, _ = actions.raise_concern(text="one", named=vet, by=member)
    about_chair, _ = actions.raise_concern(text="two", named=chair, by=member)
    assert _seen_by(vet) == [about_chair]
    assert _seen_by(chair) == [about_vet]
    assert set(_seen_by(other_vet)) == {about_vet, about_chair}
    with pytest.raises(Unseen):
        actions.take_up_concern(about_vet, by=vet)
    actions.take_up_concern(about_vet, by=other_vet)


def test_an_auditor_sees_a_concern_but_does_not_resolve_it() -> None:
    concern, _ = actions.raise_concern(text="one", by=Visitor())
    auditor, vet = make_person(Role.AUDITOR), make_person(Role.VET)
    assert _seen_by(auditor) == [concern]
    actions.take_up_concern(concern, by=vet)
    with pytest.raises(NotPermitted):
        actions.resolve_concern(concern, reason="r", by=auditor)
    actions.resolve_concern(concern, reason="The light was off.", by=vet)
    with pytest.raises(Conflict):
        actions.resolve_concern(concern, reason="again", by=vet)
    reopened = actions.reopen_concern(concern, reason="It is on, still pale.", by=auditor)
    assert reopened.state == "reviewing"


def test_keepers_and_curators_do_not_see_what_they_did_not_raise() -> None:
    concern, _ = actions.raise_concern(text="one", by=Visitor())
    for role in (Role.KEEPER, Role.CURATOR, Role.SUPERVISOR, Role.ADMINISTRATOR):
        assert not may(make_person(role), Verb.CONCERN_SEE, concern)


def test_the_page_shows_the_code_once_and_the_code_shows_the_outcome(client: Client) -> None:
    raised = client.post("/oversight/concerns/raise/", {"text": "The ray is pale."})
    assert raised.status_code == 201
    code = raised.context["code"]
    vet = make_person(Role.VET)
    concern = actions.take_up_concern(Concern.objects.get(), by=vet)
    actions.resolve_concern(concern, reason="The light was off.", by=vet)
    wrong = client.post("/oversight/concerns/follow/", {"code": "abcd-abcd"})
    assert (wrong.status_code, b"The light was off" in wrong.content) == (422, False)
    right = client.post("/oversight/concerns/follow/", {"code": code})
    assert b"The light was off" in right.content


def test_a_stranger_is_not_offered_the_names_of_animals_and_people(client: Client) -> None:
    page = client.get("/oversight/concerns/raise/")
    assert set(page.context["form"].fields) == {"text"}


def test_the_code_cannot_be_guessed_and_is_kept_nowhere(client: Client) -> None:
    """31 letters and digits in 16 places, drawn by the system: about 7e23."""
    codes = {actions.raise_concern(text="one", by=Visitor())[1] for _ in range(5)}
    assert len(codes) == 5
    assert all(re.fullmatch("([a-km-np-z2-9]{4}-){3}[a-km-np-z2-9]{4}", code) for code in codes)
    kept = str([*Concern.objects.values(), *Entry.objects.values()])
    assert not any(code in kept for code in codes)
    numbers = Concern.objects.values_list("pk", flat=True)
    for path in (*numbers, "follow/1"):
        answer = client.get(f"/oversight/concerns/{path}/")
        assert answer.status_code in {302, 404}
        assert b"one" not in answer.content.partition(b"<main")[2]


def test_whoever_gave_no_name_answers_by_the_code_and_nothing_tells_who_it_was() -> None:
    student, vet = make_person(Role.STUDENT), make_person(Role.VET)
    concern, code = actions.raise_concern(text="pale", is_anonymous=True, by=student)
    with pytest.raises(Conflict):
        actions.ask_raiser(concern, text="When?", by=vet)  # nobody has taken it up
    actions.take_up_concern(concern, by=vet)
    actions.ask_raiser(concern, text="On which day was it?", by=vet)
    with pytest.raises(Unsound):
        actions.ask_raiser(concern, text=" ", by=vet)
    with pytest.raises(Unseen):
        actions.follow_concern(code="aaaa-bbbb-cccc-dddd", text="On Tuesday.", by=student)
    browser = Client()
    browser.force_login(student)
    page = browser.post("/oversight/concerns/follow/", {"code": code}).content.decode()
    assert "On which day was it?" in page
    sent = {"code": code.upper(), "text": "On Tuesday."}
    page = browser.post("/oversight/concerns/follow/", sent).content.decode()
    assert "On Tuesday." in page
    note = concern.notes.get(sort="reply")
    assert note.written_by is None
    assert not Entry.objects.filter(actor=student).exists()
    actions.resolve_concern(concern, reason="It was the lamp.", by=vet)
    with pytest.raises(Conflict):
        actions.follow_concern(code=code, text="And on Friday.", by=student)


def test_a_welfare_check_has_a_decision_and_is_not_shown_to_whoever_raised_it() -> None:
    keeper, vet = make_person(Role.KEEPER), make_person(Role.VET)
    concern, _ = actions.raise_concern(text="It lies on its back.", by=keeper)
    actions.take_up_concern(concern, by=vet)
    with pytest.raises(NotPermitted):
        actions.check_welfare(concern, text="It swims.", course="watch", by=keeper)
    actions.check_welfare(concern, text="It swims again.", course="watch", by=vet)
    actions.reply_concern(concern, text="It was at noon.", by=keeper)
    with pytest.raises(NotPermitted):
        actions.reply_concern(concern, text="Mine.", by=vet)
    pages = {}
    for person in (keeper, vet):
        browser = Client()
        browser.force_login(person)
        pages[person] = browser.get(concern.get_absolute_url()).content.decode()
    assert "It swims again." in pages[vet]
    assert "watch more closely" in pages[vet]
    assert "It swims again." not in pages[keeper]
    assert "It was at noon." in pages[keeper]
