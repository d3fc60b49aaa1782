"""Every row that a deed writes is named by its entry, so that a later re-writing is found."""

import pytest
from django.apps import apps
from django.db.models import Model

from registry.ledger import proof
from registry.ledger.models import Entry, subject_of
from registry.people.models import Person
from tests.worlds.site import make_site

pytestmark = pytest.mark.django_db

BY_NO_DEED = {
    "people.bodykind": "reference data, loaded from fixtures/vocabulary",
    "people.training": "reference data, loaded from fixtures/vocabulary",
    "projects.procedure": "reference data, loaded from fixtures/vocabulary",
    "approvals.permissionkind": "reference data, loaded from fixtures/vocabulary",
    "search.searchdocument": "the search index, made anew from the rows themselves",
    "search.searchword": "the words that the index holds",
    "desk.lastlook": "when someone last looked; no fact of the collection",
    "desk.mailchoice": "when a person is written to; their own preference",
    "desk.morning": "that a letter of a day was seen to; written by the clock for each person",
    "desk.calendarkey": "the address of a person's own calendar; their own secret",
    "archive.taken": "how often a version was taken away; by nobody in particular",
    "ledger.entry": "the ledger itself",
}
"""Kinds whose rows no deed writes, and why."""


def ours() -> list[type[Model]]:
    """Give the models of the slices that have rows of their own."""
    return [
        model
        for model in apps.get_models()
        if model.__module__.split(".")[0] in {"registry", "archive"}
        and model._meta.label_lower not in BY_NO_DEED
    ]


def test_after_every_deed_that_built_a_site_the_rows_are_as_the_ledger_has_them() -> None:
    make_site()
    found, reading = proof.check(with_subjects=True)
    assert [f"{fault.number}: {fault.what}" for fault in found] == []
    assert reading.entries > 100


def test_no_row_stands_there_that_no_entry_names() -> None:
    make_site()
    _, reading = proof.check(with_subjects=True)
    unnamed = {}
    for model in ours():
        rows = model._default_manager.all()
        if model is Person:
            rows = Person.objects.real()
        names = [subject_of(row) for row in rows if subject_of(row) not in reading.newest]
        if names:
            unnamed[model._meta.label_lower] = len(names)
    assert unnamed == {}


def test_the_list_of_kinds_that_no_deed_writes_is_not_out_of_date() -> None:
    known = {model._meta.label_lower for model in apps.get_models()}
    assert set(BY_NO_DEED) <= known
    assert not Entry.objects.filter(subject__regex=rf"^({'|'.join(BY_NO_DEED)}):").exists()
