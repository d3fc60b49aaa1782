"""What changes something is a deed, offered on a page and in the API; no field is written."""

from collections.abc import Iterator
from typing import Any

import pytest
from django import forms
from django.test import Client
from rest_framework import serializers
from rest_framework.mixins import DestroyModelMixin, UpdateModelMixin

from registry.permissions import FROM_NOTHING, STANDINGS, TABLE, Role, Verb, is_look
from registry.rest import ObjectSerializer, ObjectViewSet
from registry.web import OFFERED_ON, Deed, DeedForm
from tests.architecture.addresses import addresses
from tests.worlds.people import make_person

ADDRESSES = addresses()
VIEWSETS: set[type[Any]] = {
    address.view.cls  # type: ignore[attr-defined]
    for address in ADDRESSES
    if address.is_api and hasattr(address.view, "cls")
}
CLOCKS = {
    verb
    for verb in Verb
    if {role for row in TABLE if row.verb == verb for role in row.roles} == {Role.CLOCK}
}
"""Deeds that the clock alone does: nobody is offered them."""


def below(kind: type[Any]) -> Iterator[type[Any]]:
    for one in kind.__subclasses__():
        yield one
        yield from below(one)


FORMS = [
    form for form in below(DeedForm) if form.__module__.split(".")[0] in {"registry", "archive"}
]
SERIALIZERS = [
    one
    for one in below(ObjectSerializer)
    if one.__module__.split(".")[0] in {"registry", "archive"}
]


def offered_on_pages() -> dict[Verb, Deed]:
    """Give every deed on an object that some page offers."""
    return {
        deed.verb: deed
        for by_name in OFFERED_ON.values()
        for deeds in by_name.values()
        for deed in deeds.values()
    }


def offered_in_the_api() -> dict[Verb, Deed]:
    """Give every deed that some view set does, those that make something from nothing too."""
    found = {}
    for viewset in VIEWSETS:
        if issubclass(viewset, ObjectViewSet):
            found |= {deed.verb: deed for deed in viewset.deeds.values()}
            found |= {deed.verb: deed for deed in viewset.starts.values()}
            if viewset.creates is not None:
                found[viewset.creates.verb] = viewset.creates
    return found


def test_there_is_something_to_look_at() -> None:
    assert len(FORMS) > 60
    assert len(SERIALIZERS) >= 15
    assert len(VIEWSETS) >= 15
    assert {Verb.DEPOSIT_CHECK} <= CLOCKS


@pytest.mark.parametrize("form", FORMS, ids=lambda form: f"{form.__module__}.{form.__name__}")
def test_no_form_writes_a_state_or_a_row_by_itself(form: type[DeedForm]) -> None:
    assert "state" not in form.base_fields
    assert not issubclass(form, forms.ModelForm)


def test_every_deed_that_is_offered_does_something() -> None:
    for deed in [*offered_on_pages().values(), *offered_in_the_api().values()]:
        assert deed.form.act is not DeedForm.act, deed.verb


@pytest.mark.parametrize("viewset", sorted(VIEWSETS, key=lambda one: one.__name__))
def test_no_part_of_the_api_updates_or_deletes(viewset: type[Any]) -> None:
    assert not issubclass(viewset, UpdateModelMixin | DestroyModelMixin)
    methods = set(getattr(viewset, "http_method_names", []))
    assert not methods & {"put", "patch", "delete"} or not issubclass(viewset, ObjectViewSet)


@pytest.mark.parametrize("serializer", SERIALIZERS, ids=lambda one: one.__name__)
def test_nothing_is_written_through_a_serializer(serializer: type[ObjectSerializer[Any]]) -> None:
    assert serializer.save is serializers.BaseSerializer.save
    assert serializer.create is serializers.ModelSerializer.create
    shown = {
        viewset for viewset in VIEWSETS if getattr(viewset, "serializer_class", None) is serializer
    }
    for viewset in shown:
        assert not hasattr(viewset, "perform_update")
        assert not hasattr(viewset, "perform_create")


def test_every_deed_is_offered_on_a_page() -> None:
    wanted = {verb for verb in Verb if not is_look(verb)} - CLOCKS - FROM_NOTHING
    missing = sorted(wanted - set(offered_on_pages()))
    assert missing == []


def test_every_deed_is_offered_in_the_api() -> None:
    wanted = {verb for verb in Verb if not is_look(verb)} - CLOCKS
    missing = sorted(wanted - set(offered_in_the_api()))
    assert missing == []


def test_the_pages_and_the_api_do_the_same_deed_with_the_same_form() -> None:
    pages, api = offered_on_pages(), offered_in_the_api()
    for verb in set(pages) & set(api):
        assert pages[verb].form is api[verb].form, verb


def test_nobody_is_offered_what_the_clock_alone_does() -> None:
    assert not CLOCKS & (set(offered_on_pages()) | set(offered_in_the_api()))


@pytest.mark.django_db
def test_everything_that_is_made_from_nothing_has_a_page_with_its_form() -> None:
    client = Client()
    client.force_login(make_person(*STANDINGS))
    found = set()
    for address in ADDRESSES:
        if address.is_api or address.captures:
            continue
        answer = client.get(f"/{address.route}")
        deed = (answer.context or {}).get("deed") if answer.status_code == 200 else None
        if isinstance(deed, Deed):
            found.add(deed.verb)
    assert sorted(FROM_NOTHING - CLOCKS - found) == []


def test_a_verb_that_asks_for_a_reason_has_a_form_that_does() -> None:
    silent = []
    for model, by_name in OFFERED_ON.items():
        lifecycle = getattr(model, "lifecycle", None)
        for deeds in by_name.values():
            for path, deed in deeds.items():
                if lifecycle is not None and path in lifecycle.reasons:
                    reason = deed.form.base_fields.get("reason")
                    if reason is None or not reason.required:
                        silent.append(deed.verb)
    assert silent == []


def test_a_deed_is_offered_once_on_a_kind_of_object() -> None:
    for model, by_name in OFFERED_ON.items():
        paths = [path for deeds in by_name.values() for path in deeds]
        assert len(paths) == len(set(paths)), (model, sorted(paths))
        for deeds in by_name.values():
            for path, deed in deeds.items():
                assert path == deed.path
                assert deed.verb.split(".")[0] == model.kind  # type: ignore[attr-defined]


def test_no_request_reaches_a_list_by_a_method_that_is_not_there() -> None:
    for viewset in VIEWSETS:
        if issubclass(viewset, ObjectViewSet) and viewset.creates is None:
            assert not hasattr(viewset, "create"), viewset
