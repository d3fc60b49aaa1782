"""Every address of the site, as everyone: what may be seen is, and nothing breaks."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import pytest
import typst
from django.db import transaction
from django.db.models import Model
from django.template.backends.django import Template
from django.test import Client
from rest_framework.test import APIClient

from archive.models import Version
from registry.oversight.models import Use
from registry.permissions import SEE, Verb, kind_of, may, reach
from registry.web import Deed
from tests.architecture.addresses import Address, addresses, by_page, captures_for, said
from tests.worlds.site import Site, make_site

pytestmark = pytest.mark.django_db

VISITOR = "a visitor"
PUBLIC = {
    "sign-in/",
    "sign-out/",
    "password/forgotten/",
    "password/sent/",
    "password/set/<uidb64>/<token>/",
    "archive/",
    "archive/<int:pk>/",
    "archive/ark/<str:name>/",
    "archive/versions/<slug:slug>/",
    "archive/versions/<slug:slug>/datapackage.json",
    "archive/versions/<slug:slug>/data/<path:name>",
    "archive/versions/<slug:slug>/spreadsheet/<path:name>",
    "archive/versions/<slug:slug>/columns/<slug:name>.parquet",
    "archive/versions/<slug:slug>/workbook/<slug:name>.xlsx",
    "archive/versions/<slug:slug>/package.zip",
    "archive/versions/<slug:slug>/bag.zip",
    "archive/versions/<slug:slug>/crate.zip",
    "archive/versions/<slug:slug>/citation.<str:form>",
    "archive/versions/<slug:slug>/citation.jsonld",
    "archive/versions/<slug:slug>/linkset.json",
    "oversight/concerns/raise/",
    "oversight/concerns/follow/",
    "morning/off/<str:signed>/",
    "calendar/<slug:secret>.ics",
    "healthy/",
}
"""Pages that a visitor is shown. To open another one is a decision: it is to be written here."""

SIGN_IN = "/sign-in/"
REPORTED = {"form": "csv", "table": "scans", "size": "small"}
"""What addresses of the API capture beside the key of a deposit, or of a photograph."""


@contextmanager
def undone() -> Iterator[None]:
    """Undo whatever is written inside, so that each request meets the same site."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@contextmanager
def unrendered() -> Iterator[None]:
    """Answer with pages that say nothing, for a walk that asks who is let in and no more.

    What stands on every page, for everyone, is read by test_leaks; each PDF has its own test.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Template, "render", lambda *_, **__: "")
        patch.setattr(typst, "compile", lambda *_, **__: b"%PDF-1.7")
        yield


def clients(site: Site) -> dict[str, Client]:
    """Give a signed-in browser for each person; none for the visitor."""
    found = {}
    for name, person in site.people.items():
        found[name] = Client()
        if name != VISITOR:
            found[name].force_login(person)
    return found


def asked(client: Client, method: str, path: str) -> Any:
    """Send a request and read the `whole` answer; a crash is given as its own words."""
    try:
        with undone():
            if isinstance(client, APIClient) and method == "post":
                return client.post(path, {}, format="json")
            answer = getattr(client, method)(path)
            answer.whole = b"".join(
                answer.streaming_content if answer.streaming else [answer.content]
            )
            return answer
    except Exception as problem:  # noqa: BLE001  # it is told as a fault, with its address
        return repr(problem)


def expected(person: Any, verb: Verb | None, subject: Model | None) -> set[int]:
    """Give the answers that the table leaves open, for the look or the deed."""
    if subject is not None:
        see = SEE.get(kind_of(subject))
        if see is not None and not may(person, see, subject):
            return {404}
    if verb is None or may(person, verb, subject):
        return {200}
    return {403}


def of_visitor(address: Address, answer: Any) -> bool:
    """Say whether a visitor got what is public, or was led to sign in."""
    to_sign_in = answer.status_code == 302 and answer.headers["Location"].startswith(SIGN_IN)
    if address.route in PUBLIC:
        return not to_sign_in and answer.status_code < 500
    return to_sign_in or answer.status_code in {404, 405}


def deed_at(address: Address, given: dict[str, Any]) -> Deed | None:
    return address.offered.get(given.get("path", ""))


def subject_of(address: Address, path: str, site: Site) -> Model | None:
    """Give the example that a page, or a page of deeds, is about."""
    if address.offered and address.model is not None:
        return site.examples[address.model]
    pages = (
        one
        for one in site.examples.values()
        if getattr(one, "get_absolute_url", lambda: "")() == path
    )
    return next(pages, None)


def page_fault(
    site: Site, address: Address, given: dict[str, Any], path: str, name: str, answer: Any
) -> str:
    """Say what is wrong with the answer to one look; nothing where all is well."""
    if isinstance(answer, str):
        return f"broke: {answer}"
    if answer.status_code >= 500:
        return str(answer.status_code)
    if name == VISITOR:
        sound = of_visitor(address, answer)
        return "" if sound else f"{answer.status_code}, and it is not in PUBLIC"
    subject = subject_of(address, path, site)
    if subject is None:
        return ""
    deed = deed_at(address, given)
    wanted = expected(site.people[name], deed.verb if deed else None, subject)
    return "" if answer.status_code in wanted else f"{answer.status_code}, not {sorted(wanted)}"


def post_fault(address: Address, name: str, wanted: set[int], answer: Any) -> str:
    """Say what is wrong with the answer to an empty form; nothing where all is well."""
    if isinstance(answer, str):
        return f"broke: {answer}"
    if name == VISITOR:
        return "" if of_visitor(address, answer) else str(answer.status_code)
    wanted = {302, 409, 422} if wanted == {200} else wanted
    return "" if answer.status_code in wanted else f"{answer.status_code}, not {sorted(wanted)}"


def test_every_deed_sent_empty_from_its_page_is_refused_in_words_or_done() -> None:
    site = make_site()
    pages, browsers, faults, sent = by_page(site), clients(site), [], 0
    for address in addresses():
        if address.is_api or not address.offered or address.model is None:
            continue
        subject = site.examples[address.model]
        for given in captures_for(address, site, pages):
            path, deed = said(address, given), deed_at(address, given)
            met: set[frozenset[int]] = set()
            for name, browser in browsers.items() if path and deed else ():
                wanted = expected(site.people[name], deed.verb, subject)
                # Once for each answer that is expected; test_leaks looks as everyone.
                if frozenset(wanted) in met and name != VISITOR:
                    continue
                met.add(frozenset(wanted))
                answer = asked(browser, "post", path)
                sent += 1
                if fault := post_fault(address, name, wanted, answer):
                    faults.append(f"POST {path} as {name}: {fault}")
    assert faults == [], "\n" + "\n".join(faults)
    assert sent > 150


def verb_at(viewset: Any, action: str) -> Verb | None:
    """Give the verb of one of a view set's actions; none for a look."""
    if action.startswith("do_"):
        found: Verb = viewset.deeds[action[3:]].verb
        return found
    if action.startswith("start_"):
        begun: Verb = viewset.starts[action[6:]].verb
        return begun
    return viewset.creates.verb if action == "create" else None


def _sees_all_uses(person: Any) -> bool:
    return reach(Use, person, Verb.USE_SEE) is True or may(person, Verb.USE_REVIEW)


STERNER: Mapping[str, Callable[[Any], bool]] = {
    "lifetime": _sees_all_uses,
    "unpublished": lambda person: may(person, Verb.USE_REVIEW),
}
"""Looks of the API that tell more than the object by itself, and who may have them."""


def wanted_of_api(person: Any, verb: Verb | None, about: Model | None, is_public: bool) -> set[int]:
    """Give the answers that the table leaves open to this caller."""
    if not getattr(person, "is_authenticated", False):
        wanted = expected(person, verb, about) if is_public else {401}
        return wanted if verb is None else wanted | {401, 403}
    wanted = expected(person, verb, about)
    return {200, 201, 409, 422} if verb is not None and wanted == {200} else wanted


def test_every_address_of_the_api_answers_everyone_as_the_table_says() -> None:
    site = make_site()
    faults, looks = [], 0
    callers = {name: APIClient() for name in site.people}
    for name, caller in callers.items():
        if name != VISITOR:
            caller.force_authenticate(site.people[name])
    for address in addresses():
        viewset = getattr(address.view, "cls", None)
        if not address.is_api or getattr(viewset, "queryset", None) is None:
            continue
        subject = site.examples.get(viewset.queryset.model)
        key = viewset.lookup_url_kwarg or viewset.lookup_field
        if "/report/" in address.route:  # what was found is there once a deposit was checked
            subject = site[Version].deposit
        if subject is None or not address.captures <= {key, *REPORTED}:
            faults.append(f"{address.route}: there is no object for it")
            continue
        path = said(address, {key: getattr(subject, viewset.lookup_field), **REPORTED})
        about = subject if address.captures else None
        is_public = bool(getattr(viewset, "is_public", False))
        for method, action in list(address.view.actions.items()):  # type: ignore[attr-defined]
            verb = verb_at(viewset, action)
            for name, caller in callers.items() if method != "head" else ():
                wanted = wanted_of_api(site.people[name], verb, about, is_public)
                if wanted == {200} and not STERNER.get(action, bool)(site.people[name]):
                    wanted = {403}
                answer = asked(caller, method, path)
                looks += 1
                if isinstance(answer, str) or answer.status_code not in wanted:
                    said_back = answer if isinstance(answer, str) else answer.status_code
                    faults.append(f"{method} {path} as {name}: {said_back}, not {sorted(wanted)}")
    assert faults == [], "\n" + "\n".join(faults)
    assert looks > 1000


def test_the_walk_finds_what_it_ought_to_find() -> None:
    routes = {address.route for address in addresses()}
    assert {"sign-in/", "people/<int:pk>/", "questions/<int:pk>/<slug:path>/"} <= routes
    assert any(route.startswith("api/v1/") for route in routes)
    assert len(routes) > 80


def test_an_address_without_an_object_is_a_fault() -> None:
    site = make_site()
    person = next(one for one in addresses() if one.route == "people/<int:pk>/")
    unknown = Address("moon/<int:crater>/", frozenset({"crater"}), person.view, person.pattern)
    with pytest.raises(KeyError, match="no object is given for it"):
        captures_for(unknown, site, by_page(site))
