"""Every page answers everyone as the table says, and shows and leads nobody to what is not theirs.

Each kind of object that not everyone may see holds words that stand nowhere else. Every page, every
list of the API and the search are asked as everyone; the words are looked for in the answers, and
every link on a page is followed. Every choice of every form is held against the table of who may.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from typing import Any

import pytest
import typst
from django import forms
from django.db.models import Model
from django.template.base import Template
from django.test.utils import _TestState
from rest_framework.test import APIClient

from archive.models import Deposit
from registry import notes
from registry.approvals.models import Approval
from registry.oversight import actions as oversight
from registry.oversight.models import (
    Audit,
    Booking,
    Breach,
    Concern,
    Enrolment,
    Session,
)
from registry.people.models import Person
from registry.permissions import SEE, Role, Verb, allowed, kind_of, may
from registry.projects.models import Plan
from registry.questions.actions import like_question
from registry.questions.models import Interest
from registry.search import index
from registry.web import OFFERED_ON
from tests.architecture.addresses import (
    Address,
    addresses,
    by_page,
    captures_for,
    said,
)
from tests.architecture.test_urls import VISITOR, asked, clients, page_fault
from tests.worlds.archive import make_version, rows
from tests.worlds.oversight import make_enrolled, make_handling, make_use
from tests.worlds.people import fresh, make_person
from tests.worlds.questions import make_taken_on
from tests.worlds.site import Site, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _unwatched(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write pages as the site does: the browser of tests keeps a copy of each part of each page."""
    monkeypatch.setattr(Template, "_render", _TestState.saved_data.template_render)  # type: ignore[attr-defined]  # why: it has no stub


def _as_told(_main: Path, *, root: Path, **_how: object) -> bytes:
    """Give what a sheet is set from, so that its words can be read here; setting takes long."""
    told = [one for one in sorted(root.iterdir()) if one.suffix in {".json", ".svg"}]
    return b"\n".join(one.read_bytes() for one in told)


@pytest.fixture(autouse=True)
def _unset(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(typst, "compile", _as_told)


LINK = re.compile(r'<(?:a|link|form)\b[^>]*?\b(?:href|action)="([^"#]*)', re.IGNORECASE)
LOOKED_FOR = "zanzibar"
"""Stands in every secret, so that the search finds them all; the search repeats it, and no more."""


@dataclass(frozen=True)
class Secret:
    """Words that stand in one object alone, and the look that one must be allowed to read them."""

    word: str
    verb: Verb
    subject: Model

    def is_for(self, person: Any) -> bool:
        return may(person, self.verb, self.subject)


type Look = tuple[Address, dict[str, Any]]
"""An address, and what stands in its captures."""


@dataclass
class FullSite:
    """A site in which things lead to others that not everyone may see; each holds its secret."""

    site: Site
    more: list[Model] = field(default_factory=list)
    secrets: list[Secret] = field(default_factory=list)

    def hide(self, obj: Model, name: str, verb: Verb, subject: Model | None = None) -> None:
        """Put a secret into a column. No deed could write them all, so the row is written."""
        word = f"{obj._meta.model_name}{name}secret".replace("_", "")
        type(obj)._default_manager.filter(pk=obj.pk).update(**{name: f"{LOOKED_FOR} {word}"})
        self.secrets.append(Secret(word, verb, subject or obj))

    def looks(self) -> dict[str, Look | None]:
        """Give the path of every page that can be looked at, and how it came to be written."""
        pages, found = by_page(self.site), dict[str, Look | None]()
        for address in addresses():
            for given in () if address.is_api else captures_for(address, self.site, pages):
                if path := said(address, given):
                    found.setdefault(path, (address, given))
        more = (obj.get_absolute_url() for obj in self.more)  # type: ignore[attr-defined]  # why: each has a page
        for path in (*more, f"/search/?q={LOOKED_FOR}", f"/archive/?q={LOOKED_FOR}"):
            found.setdefault(path, None)
        return found

    def api_paths(self) -> Iterator[str]:
        """Give the path of every list of the API, and of each example in it."""
        for address in addresses():
            viewset = getattr(address.view, "cls", None)
            if not address.is_api or getattr(viewset, "queryset", None) is None:
                continue
            if not address.captures:
                yield f"/{address.route}?page_size=500".replace("^", "").replace("$", "")


def make_full_site() -> FullSite:
    """Give such a site."""
    site = make_site()
    world = make_handling(max_contacts_each=1)
    (enrolment,) = make_enrolled(world, 1)
    make_use(world, enrolment)
    use = make_use(world, enrolment)
    breach = use.breaches.get()
    stranger, auditor = make_person(name="Sana Whitlock"), make_person(Role.AUDITOR)
    audit = oversight.open_audit(title="Contacts", scope="All.", by=auditor)
    point = oversight.write_point(
        audit, text="Why twice?", addressee=stranger, breach=breach, by=auditor
    )
    secret_cell = "11.98765432"
    closed = make_version(
        {"scans.csv": rows(f"1,R-01,,REST,{secret_cell}")},
        access="restricted",
        terms={"restricted_because": "The place must not be known."},
    )
    like_question(make_taken_on(), note="Soon.", by=make_person(Role.STUDENT))
    site.people.update(
        {
            "the chair of another body": fresh(world.chair),
            "whom a point is put to": fresh(stranger),
        }
    )
    full = FullSite(
        site, [breach, use, point, audit, world.approval, world.project, enrolment, closed]
    )
    full.secrets.append(Secret(secret_cell, Verb.VERSION_READ, closed))
    full.hide(site[Concern], "text", Verb.CONCERN_SEE)
    full.hide(breach, "said", Verb.BREACH_SEE)
    full.hide(site[Breach], "explanation", Verb.BREACH_SEE)
    full.hide(use, "note", Verb.USE_SEE)
    full.hide(site[Session], "notes", Verb.SESSION_SEE)
    full.hide(site[Booking], "wish", Verb.BOOKING_SEE)
    full.hide(site[Enrolment], "code", Verb.ENROLMENT_SEE)
    full.hide(site[Approval], "case", Verb.APPROVAL_SEE)
    full.hide(world.approval, "title", Verb.APPROVAL_SEE)
    full.hide(audit, "scope", Verb.AUDIT_SEE)
    full.hide(site[Audit], "title", Verb.AUDIT_SEE)
    full.hide(point, "text", Verb.POINT_SEE)
    full.hide(site[Deposit], "note", Verb.DEPOSIT_SEE)
    full.hide(
        Plan.objects.get(project=world.project), "hypothesis", Verb.PROJECT_SEE_PLAN, world.project
    )
    full.hide(site[Person], "email", Verb.PERSON_SEE)
    interest = Interest.objects.get(note="Soon.")
    full.more.append(interest.question)
    full.hide(interest, "note", Verb.QUESTION_SEE_INTEREST, interest.question)
    index.rebuild()
    return full


def links_on(page: str) -> set[str]:
    """Give the addresses of this site to which a page leads."""
    found = {unescape(link) for link in LINK.findall(page)}
    # What is asked behind the path narrows a page, and never leads to another one.
    paths = {link.partition("?")[0] for link in found}
    return {path for path in paths if path.startswith("/") and path != "/sign-out/"}


def callers(site: Site) -> dict[str, APIClient]:
    found = {name: APIClient() for name in site.people}
    for name, caller in found.items():
        if name != VISITOR:
            caller.force_authenticate(site.people[name])
    return found


def test_everyone_is_answered_as_the_table_says_and_neither_shown_nor_led_to_more() -> None:
    full = make_full_site()
    site, browsers, programs = full.site, clients(full.site), callers(full.site)
    looks, lists = full.looks(), list(full.api_paths())
    faults: list[str] = []
    shown: set[str] = set()
    for name, person in site.people.items():
        barred = [secret.word for secret in full.secrets if not secret.is_for(person)]
        met: dict[str, str] = {}
        answered: dict[str, Any] = {}
        for caller, paths in ((browsers[name], looks), (programs[name], lists)):
            for path in paths:
                notes.beat()  # a worker is there; without one /healthy/ says so by its status
                answer = answered[path] = asked(caller, "get", path)
                look = looks.get(path)
                if look and (fault := page_fault(site, *look, path, name, answer)):
                    faults.append(f"GET {path} as {name}: {fault}")
                text = getattr(answer, "whole", b"").decode("utf-8", "replace")
                faults += [f"{name} reads {word} on {path}" for word in barred if word in text]
                shown |= {secret.word for secret in full.secrets if secret.word in text}
                if status_of(answer) == 200 and "html" in answer.headers.get("Content-Type", ""):
                    met |= {link: path for link in links_on(text) if link not in met}
        for link, path in met.items():
            status = status_of(answered.get(link) or asked(browsers[name], "get", link))
            if status in {403, 404, 500}:
                faults.append(f"{name} is led from {path} to {link}: {status}")
    assert faults == [], "\n" + "\n".join(faults)
    unseen = {secret.word for secret in full.secrets} - shown
    assert not unseen, f"nobody at all reads these, so that nothing was tried: {unseen}"
    assert len(looks) > 250


def status_of(answer: Any) -> int:
    """Give the status of an answer; a crash is a 500."""
    return 500 if isinstance(answer, str) else answer.status_code


def choices_beyond(form: forms.Form, person: Any) -> Iterator[tuple[str, Model]]:
    """Yield each row that a form offers and that its person may not see."""
    for name, one in form.fields.items():
        if not isinstance(one, forms.ModelChoiceField) or one.queryset is None:
            continue
        see = SEE.get(kind_of(one.queryset.model))
        if see is None:
            continue
        seen = allowed(one.queryset.model._default_manager.all(), person, see)
        for row in one.queryset.all():
            if not seen.filter(pk=row.pk).exists():
                yield name, row


CHOSEN_UNSEEN: dict[type[Model], str] = {
    Person: "whoever chooses a member of a project, a decider or a maker must name them",
}
"""Kinds that a form may offer by name to those who may not open their page, and why."""


def test_no_form_offers_what_its_person_may_not_see() -> None:
    full = make_full_site()
    subjects: list[Model] = [*full.site.examples.values(), *full.more]
    faults, looked = set(), 0
    for name, person in full.site.people.items():
        for subject in subjects:
            for offered in OFFERED_ON.get(type(subject), {}).values():
                for deed in offered.values():
                    if not may(person, deed.verb, subject):
                        continue
                    form = deed.form(None, subject=subject, by=person)
                    looked += 1
                    for where, row in choices_beyond(form, person):
                        if type(row) not in CHOSEN_UNSEEN:
                            faults.add(f"{deed.verb} offers {name} the {kind_of(row)} in {where}")
    assert not faults, "\n" + "\n".join(sorted(faults))
    assert looked > 100, looked
