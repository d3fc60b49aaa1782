"""Every address, asked in every way: what it is not made for is refused; a look writes nothing."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from archive.acceptance import erase
from archive.actions import withdraw_version
from archive.models import Version
from registry.ledger.models import Entry
from registry.permissions import STANDINGS, Role, Verb, Visitor, may
from tests.architecture.addresses import (
    Address,
    addresses,
    by_page,
    captures_for,
    lay_copy,
    said,
)
from tests.architecture.test_urls import REPORTED, SIGN_IN, VISITOR, asked, clients, unrendered
from tests.worlds.archive import make_version, rows
from tests.worlds.people import fresh, make_person
from tests.worlds.projects import lead_of, student_of
from tests.worlds.site import Site, make_site

pytestmark = pytest.mark.django_db

VALUE = "11.98765432"
"""A value in the data that stands nowhere else."""
OTHER_METHODS = ("put", "patch", "delete", "options", "trace")


def written(site: Site, *, is_api: bool) -> list[tuple[Address, str]]:
    """Give each address, written out for its example."""
    pages, found = by_page(site), []
    for address in addresses():
        if address.is_api != is_api:
            continue
        viewset = getattr(address.view, "cls", None)
        if is_api and getattr(viewset, "queryset", None) is not None:
            subject: Any = site.examples.get(viewset.queryset.model)
            key = viewset.lookup_url_kwarg or viewset.lookup_field
            if subject is not None:
                given = {key: getattr(subject, viewset.lookup_field), **REPORTED}
                found.append((address, said(address, given)))
        elif not is_api:
            found.extend((address, path) for path in written_out(address, site, pages)[:1])
    return found


def written_out(address: Address, site: Site, pages: Mapping[str, Any]) -> list[str]:
    """Give an address as it is asked, once for each way in which it can be."""
    ways = captures_for(address, site, pages)
    return [path for given in ways if (path := said(address, given))]


def got(browser: Client, path: str) -> tuple[int, str]:
    """Ask for a page, and give its status and whole text; a crash is a 500."""
    answer = asked(browser, "get", path)
    if isinstance(answer, str):
        return 500, answer
    return answer.status_code, answer.whole.decode("utf-8", "replace")


def test_no_page_answers_any_method_but_get_head_and_post() -> None:
    site = make_site()
    faults, sent = [], 0
    for name in (VISITOR, "its lead supervisor"):
        browser = clients(site)[name]
        for _, path in written(site, is_api=False):
            for method in OTHER_METHODS:
                answer = asked(browser, method, path)
                sent += 1
                status = answer if isinstance(answer, str) else answer.status_code
                if status != 405:
                    faults.append(f"{method} {path} as {name}: {status}")
    assert faults == [], "\n" + "\n".join(faults)
    assert sent > 800


def test_a_page_says_in_words_how_it_is_asked() -> None:
    answer = Client().delete("/questions/")
    assert (answer.status_code, answer.headers["Allow"]) == (405, "GET, HEAD, POST")
    assert "A page is not asked with DELETE" in answer.content.decode()


def test_no_address_of_the_api_answers_a_method_that_it_does_not_offer() -> None:
    site = make_site()
    faults, sent = [], 0
    for name in ("administrator", "its lead supervisor"):
        caller = APIClient()
        caller.force_authenticate(site.people[name])
        for address, path in written(site, is_api=True):
            offered = {*address.view.actions, "options", "head"}  # type: ignore[attr-defined]
            for method in {"get", "post", "put", "patch", "delete"} - offered:
                answer = asked(caller, method, path)
                sent += 1
                status = answer if isinstance(answer, str) else answer.status_code
                if status != 405:
                    faults.append(f"{method} {path} as {name}: {status}")
    assert faults == [], "\n" + "\n".join(faults)
    assert sent > 300


BUTTONS = {
    "people/tokens/<int:pk>/revoke/",
    "people/signing-in/elsewhere/",
    "reference/load/",
    "morning/calendar/",
    "morning/calendar/off/",
    "morning/off/<str:signed>/",
}
"""Addresses that are one button each: to send nothing is to press it."""


_LOOKERS = (Role.CURATOR, Role.STEWARD, Role.AUDITOR, Role.ADMINISTRATOR)
"""With a member and a visitor these see every page; who is let in where is walked as everyone."""


def test_what_is_only_looked_at_writes_nothing_however_it_is_asked() -> None:
    """A POST to a page without a form is a look too: no entry is left, and nothing breaks."""
    site = make_site()
    before, faults = Entry.objects.count(), []
    browsers = clients(site)
    for name in (VISITOR, "its lead supervisor", *(role.label for role in _LOOKERS)):
        browser = browsers[name]
        for address, path in written(site, is_api=False):
            if address.offered or address.route in BUTTONS:
                continue
            with unrendered():
                answer = browser.post(path, {}) if path != "/sign-out/" else None
            if answer is not None and answer.streaming:
                list(answer.streaming_content)
            if answer is not None and answer.status_code >= 500:
                faults.append(f"POST {path} as {name}: {answer.status_code}")
            elif Entry.objects.count() != before:
                faults.append(f"POST {path} as {name} left an entry, though nothing was typed")
                before = Entry.objects.count()
            elif answer is not None and name == VISITOR and answer.status_code == 302:
                target = answer.headers["Location"]
                if not target.startswith((SIGN_IN, "/password/", "/")):
                    faults.append(f"POST {path} sends a visitor to {target}")
    assert faults == [], "\n" + "\n".join(faults)


# ---------------------------------------------------------------------------------- the files


def version_that_is(access: str) -> Version:
    """Give a version that is open, or closed in one of the ways in which it may be."""
    steward, administrator = make_person(Role.STEWARD), make_person(Role.ADMINISTRATOR)
    terms: dict[str, dict[str, Any]] = {
        "embargoed": {"embargoed_until": timezone.localdate() + timedelta(days=30)},
        "restricted": {"restricted_because": "The place must not be known."},
    }
    version = make_version(
        {"scans.csv": rows(f"1,R-01,,REST,{VALUE}")},
        access=access if access in terms else "open",
        terms=terms.get(access),
    )
    if access in {"withdrawn", "erased"}:
        withdraw_version(version, ground="faulty", reason="Wrong pool.", by=steward)
    if access == "erased":
        erase(version, reason="By law.", by=steward)
        erase(version, reason="By law.", by=administrator)
    return Version.objects.get(pk=version.pk)


CLOSED_FILES = (
    "data/scans.csv",
    "spreadsheet/scans.csv",
    "columns/scans.parquet",
    "workbook/scans.xlsx",
    "package.zip",
    "bag.zip",
    "crate.zip",
    "datapackage.json",
)
DESCRIBED = {"": {"held": 200, "": 410}, "citation.bib": {"held": 200, "": 200}}
"""What tells of a version, and is for everyone; the citation outlives a withdrawal."""


@pytest.mark.parametrize("access", ["open", "embargoed", "restricted", "withdrawn", "erased"])
def test_files_are_for_those_who_may_read_the_version_and_nobody_else(access: str) -> None:
    version = version_that_is(access)
    lay_copy(version)
    project = version.dataset.project
    people: dict[str, Any] = {role.label: make_person(role) for role in STANDINGS}
    people |= {
        "someone without standing": make_person(),
        "its lead supervisor": fresh(lead_of(project)),
        "its student": fresh(student_of(project)),
    }
    browsers = {name: Client() for name in people}
    for name, browser in browsers.items():
        browser.force_login(people[name])
    people[VISITOR], browsers[VISITOR] = Visitor(), Client()
    home = f"/archive/versions/{version.slug}/"
    faults = []
    for name, person in people.items():
        is_open = may(person, Verb.VERSION_READ, version)
        closed = {410} if version.state != "held" else {403, 404, 302}
        for path in CLOSED_FILES:
            status, text = got(browsers[name], f"{home}{path}")
            if (status == 200) != is_open or (not is_open and status not in closed):
                faults.append(f"{name} asks for {path}: {status}")
            if not is_open and VALUE in text:
                faults.append(f"{name} reads a row of {path}")
        for path, answers in DESCRIBED.items():
            status, text = got(browsers[name], f"{home}{path}")
            if status != answers.get(version.state, answers[""]):
                faults.append(f"{name} asks for {path or 'the page'}: {status}")
            if not is_open and VALUE in text:
                faults.append(f"{name} reads a value on {path or 'the page'}")
    assert faults == [], "\n" + "\n".join(faults)


def test_drafts_and_reports_are_not_there_for_whoever_is_not_of_the_project() -> None:
    site = make_site()
    strangers = ["student", "keeper", "supervisor", "administrator", "someone without standing"]
    pages, faults = by_page(site), []
    for address in addresses():
        if not address.route.startswith("archive/deposits/<int:pk>/"):
            continue
        for path in written_out(address, site, pages):
            for name in (*strangers, VISITOR):
                status = got(clients(site)[name], path)[0]
                if status != (302 if name == VISITOR else 404):
                    faults.append(f"{name} asks for {path}: {status}")
    assert faults == [], "\n" + "\n".join(faults)
