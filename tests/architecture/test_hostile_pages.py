"""Every form and every list of the site against hostile and clumsy hands: words, never a crash."""

from html import escape
from typing import Any

import pytest
from django import forms
from django.test import Client

from registry import notes
from registry.permissions import may
from tests.architecture.addresses import _write, addresses, by_page, captures_for, said
from tests.architecture.test_urls import (
    SIGN_IN,
    VISITOR,
    asked,
    clients,
    deed_at,
    undone,
    unrendered,
)
from tests.worlds.site import Site, make_site

pytestmark = pytest.mark.django_db

SCRIPT = "<script>alert(1)</script> 😀"
TYPED = {
    "nothing": " ",
    "script": SCRIPT,
    "nul": "a\x00b",
    "long": "a" * 100_001,
    "number": "9" * 30,
    "above its column": "2999999999",
    "odd digit": "²",
    "long ago": "0001-01-01",
    "far off": "9999-12-31T23:59",
}
QUERIES = (
    "page=abc&map=-1",
    "page=-1&map=%C2%B2",
    f"page={'9' * 30}&map={'9' * 5000}",
    "state=zzz&q=%22%20OR%20NEAR(%27*",
    "state=%00",
    f"q=%F0%9F%98%80%FF&taxon={'9' * 30}&project={'9' * 30}&body={'9' * 30}&procedure={'9' * 30}",
    f"q={'a' * 3000}&taxon={'9' * 5000}&month={'9' * 5000}&project={'9' * 5000}",
    "taxon=%C2%B2&month=%C2%B2&project=%C2%B2&body=%C2%B2&session=%C2%B2",
    "happened_by=0001-01-01",
    "since=0001-01-01&until=9999-12-31&known_by=9999-12-31",
    "begun=0001-01-01&ended=2026-02-30&person=zzz&verb=zzz&subject=%22",
    "animal=zzz&group=-1&approval=zzz&by=zzz&level=zzz&which=zzz&kind=zzz&running=zzz",
    "ordering=%27&page_size=-1&format=zzz",
)


def who_may(site: Site, deed: Any, subject: Any) -> str | None:
    """Give the name of someone who may do this deed on the example."""
    people = (name for name in site.people if name != VISITOR)
    return next((name for name in people if may(site.people[name], deed.verb, subject)), None)


def typed_fault(value: str, answer: Any) -> str:
    """Say what is wrong with the answer to a form of which every field was typed this."""
    if answer.status_code not in {302, 403, 409, 413, 422}:
        return str(answer.status_code)
    shown = answer.content.decode()
    if "<script>alert(1)" in shown:
        return "it runs what was typed"
    if answer.status_code not in {409, 422}:
        return ""
    if 'class="refusal' not in shown:
        return "nothing says why"
    texts = [
        one
        for one in answer.context["form"].fields.values()
        if isinstance(one.widget, forms.TextInput | forms.Textarea)
    ]
    if value == SCRIPT and shown.count(escape(SCRIPT)) < len(texts):
        return "what was typed is gone"
    return ""


def posted(client: Client, path: str, typed: dict[str, str]) -> Any:
    """Send a form; a crash is given as its own words."""
    try:
        with undone():
            return client.post(path, typed)
    except Exception as problem:  # noqa: BLE001  # it is told as a fault, with its address
        return f"broke: {problem!r}"


def test_whatever_is_typed_into_a_form_is_taken_or_refused_in_words_and_stays() -> None:
    site = make_site()
    pages, browsers, faults, sent = by_page(site), clients(site), [], 0
    for address in addresses():
        if address.is_api or not address.offered or address.model is None:
            continue
        subject = site.examples[address.model]
        for given in captures_for(address, site, pages):
            path, deed = said(address, given), deed_at(address, given)
            name = who_may(site, deed, subject) if path and deed else None
            if name is None or deed is None or not deed.form.base_fields:
                continue
            for sort, value in TYPED.items():
                answer = posted(browsers[name], path, dict.fromkeys(deed.form.base_fields, value))
                sent += 1
                fault = answer if isinstance(answer, str) else typed_fault(value, answer)
                if fault:
                    faults.append(f"{path} as {name}, {sort}: {fault}")
    assert faults == [], "\n" + "\n".join(faults)
    assert sent > 400


def test_whatever_stands_behind_the_question_mark_no_list_breaks() -> None:
    notes.beat()  # a worker is there; without one /healthy/ says so by its status
    site = make_site()
    browsers, faults, looks = clients(site), [], 0
    for address in addresses():
        if address.captures or "sign-out" in address.route:
            continue
        path = _write(address, {})
        for query in QUERIES:
            answer = asked(browsers["auditor"], "get", f"{path}?{query}")
            looks += 1
            if isinstance(answer, str) or answer.status_code >= 500:
                faults.append(f"{path}?{query[:80]}: {answer}")
            elif answer.status_code == 400 and "%00" not in query and not address.is_api:
                faults.append(f"{path}?{query[:80]}: 400")
    assert faults == [], "\n" + "\n".join(faults)
    assert looks > 1000


def test_a_key_that_no_row_can_have_is_not_found_wherever_it_stands() -> None:
    site = make_site()
    browser, faults = clients(site)["administrator"], []
    for address in addresses():
        if not address.captures or address.route.startswith("password/"):
            continue
        for key in ("zzz", "²", "0", "9" * 30, "%FF", "a" * 2000, "..%2f.."):
            path = _write(address, dict.fromkeys(address.captures, key))
            for method in ("get", "post"):
                with unrendered():
                    answer = asked(browser, method, path)
                is_led = (
                    not isinstance(answer, str)
                    and answer.status_code == 302
                    and answer.headers["Location"].startswith(SIGN_IN)
                )
                if isinstance(answer, str) or answer.status_code >= 500 or is_led:
                    faults.append(f"{method} {path[:90]}: {answer}")
    assert faults == [], "\n" + "\n".join(faults)
