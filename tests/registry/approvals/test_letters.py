"""The printed letter of an approval."""

import io

import pytest
from django.test import Client
from pypdf import PdfReader

from registry.approvals import actions
from registry.approvals.models import Approval
from registry.ledger.models import Entry
from registry.people.models import Person
from registry.permissions import Role
from tests.worlds.approvals import make_asked, make_collecting
from tests.worlds.people import make_person

pytestmark = pytest.mark.django_db


def letter_to(person: Person, approval: Approval) -> str:
    """Give the words of the letter, white space made single."""
    browser = Client()
    browser.force_login(person)
    assert f"{approval.pk}/letter.pdf" in browser.get(approval.get_absolute_url()).content.decode()
    printed = browser.get(f"{approval.get_absolute_url()}letter.pdf")
    assert printed.headers["Content-Type"] == "application/pdf"
    pages = PdfReader(io.BytesIO(printed.content)).pages
    return " ".join(" ".join(one.extract_text() for one in pages).split())


def test_the_letter_tells_the_limits_the_conditions_and_the_head_of_the_ledger() -> None:
    request, chair, member = make_asked()
    Approval.objects.filter(pk=request.pk).update(case="Not part of the letter.")
    waiting = letter_to(chair, request)
    assert "This is no approval: the request is submitted." in waiting
    actions.grant_approval(
        request,
        decision="Short, and stops by itself: #x $y$.",
        conditions=[("A keeper is present.", request.ends_on)],
        deciders=[member],
        by=chair,
    )
    said = letter_to(chair, Approval.objects.get(pk=request.pk))
    limit = request.limits.get()
    for words in (
        "It is approved",
        "Short, and stops by itself: #x $y$.",
        "A keeper is present. Evidence is due on",
        f"{limit.procedure}",
        f"{limit.max_animals}",
        limit.severity_at_most.label,
        f"{chair.name}, {member.name}",
    ):
        assert words in said, words
    assert "no approval" not in said
    assert Entry.objects.order_by("-number")[0].digest in said.replace(" ", "")


def test_the_letter_of_a_suspended_approval_says_so() -> None:
    world, vet = make_collecting(), make_person(Role.VET)
    assert "It is approved" in letter_to(vet, world.approval)
    actions.suspend_approval(world.approval, reason="Fins are frayed.", by=vet)
    said = letter_to(vet, Approval.objects.get(pk=world.approval.pk))
    assert "It is suspended" in said
    assert "It is approved" not in said


def test_who_may_not_see_an_approval_gets_no_letter_of_it() -> None:
    world = make_collecting()
    browser = Client()
    browser.force_login(make_person(Role.STUDENT))
    assert browser.get(f"{world.approval.get_absolute_url()}letter.pdf").status_code == 404
    browser.force_login(world.student)
    assert browser.get(f"{world.approval.get_absolute_url()}letter.pdf").status_code == 200
