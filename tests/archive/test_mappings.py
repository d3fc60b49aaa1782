"""Mappings between dictionaries: proposed by one person, reviewed by another, with reasons."""

from typing import Any

import pytest
from django.test import Client
from rest_framework.test import APIClient

from archive.actions import (
    accept_mapping,
    decline_mapping,
    propose_mapping,
    withdraw_mapping,
)
from archive.extending.lines import read
from archive.models import Dictionary, DictionaryMapping, Version
from registry.errors import Conflict, NotPermitted, Unsound
from registry.ledger.models import Entry
from registry.people.models import Person
from registry.permissions import Role, Verb
from tests.worlds.archive import (
    make_dictionary,
    make_mapping,
    make_version,
    pooling_here,
    rows,
)
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, make_study

pytestmark = pytest.mark.django_db

RULES = "convert depth from m to cm\nrename depth to depth_cm"


def again(mapping: DictionaryMapping, **change: Any) -> DictionaryMapping:
    """Propose the same mapping once more, changed as given."""
    given: dict[str, Any] = {
        "old": mapping.old,
        "old_table": "scans",
        "table": "scans",
        "rules": mapping.as_rules,
        "reason": "As before.",
        "by": mapping.proposer,
    }
    return propose_mapping(mapping.new, **(given | change))


def lead(mapping: DictionaryMapping) -> Person:
    """Give the lead supervisor of the mapping's study."""
    return lead_of(mapping.new.study.projects.get())


@pytest.mark.postgres
def test_a_mapping_holds_once_a_second_person_has_accepted_it() -> None:
    mapping = make_mapping()
    with pytest.raises(NotPermitted):
        accept_mapping(mapping, by=mapping.proposer)
    with pytest.raises(Unsound, match="Nobody has reviewed it"):
        _ = mapping.mapped
    accepted = accept_mapping(mapping, by=lead(mapping))
    assert accepted.state == "accepted"
    assert accepted.mapped.reviewed_by == f"person {lead(mapping).pk}"
    assert accepted.mapped.rules == read(RULES)
    entry = Entry.objects.about(mapping).get(verb=Verb.MAPPING_ACCEPT)
    assert entry.project_number == mapping.new.study.projects.get().pk
    withdrawn = withdraw_mapping(accepted, reason="The wall was another.", by=accepted.proposer)
    assert not DictionaryMapping.objects.accepted().exists()
    assert again(withdrawn).state == "proposed"


def test_one_steward_does_not_review_their_own_mapping() -> None:
    mapping = make_mapping()
    decline_mapping(mapping, reason="Not the same wall.", by=lead(mapping))
    steward = make_person(Role.STEWARD)
    own = again(mapping, by=steward)
    for deed in (accept_mapping, decline_mapping):
        with pytest.raises(NotPermitted):
            deed(own, by=steward, **({"reason": "Mine."} if deed is decline_mapping else {}))  # type: ignore[operator]  # why: two deeds of two shapes
    assert accept_mapping(own, by=make_person(Role.STEWARD)).state == "accepted"


def test_what_cannot_be_proposed_is_refused_by_field() -> None:
    mapping = make_mapping()
    with pytest.raises(Conflict, match="proposed mapping"):
        again(mapping)
    decline_mapping(mapping, reason="Not the same wall.", by=lead(mapping))
    for change, field in (
        ({"old": mapping.new}, "old"),
        ({"table": "walks"}, "table"),
        ({"old_table": "walks"}, "old_table"),
        ({"rules": read("rename depth to depth_cm")}, "rules"),
        ({"reason": " "}, "reason"),
    ):
        with pytest.raises(Unsound) as refused:
            again(mapping, **change)
        assert list(refused.value.fields) == [field]
    with pytest.raises(NotPermitted):
        again(mapping, by=make_person(Role.KEEPER))
    assert again(mapping).state == "proposed"


def begin(client: Client, second: Dictionary) -> str:
    """Open the page on which the mapping of a dictionary's scans begins; give its address."""
    page = client.get(second.get_absolute_url()).content.decode()
    address = f"{second.get_absolute_url()}propose_mapping/"
    assert address in page
    return address


def test_a_pair_that_does_not_fit_offers_to_begin_a_mapping_with_rules_suggested(
    client: Client,
) -> None:
    mapping = make_mapping()
    decline_mapping(mapping, reason="Another wall.", by=lead(mapping))
    client.force_login(mapping.proposer)
    address = begin(client, mapping.new)
    asked = f"{address}?old={mapping.old_id}&old_table=scans&table=scans"
    assert (
        asked.replace("&", "&amp;") in client.get(mapping.new.get_absolute_url()).content.decode()
    )
    page = client.get(asked).content.decode()
    assert RULES in page
    assert "It is new, and every table must have every column." in page
    given = {"old": mapping.old_id, "old_table": "scans", "table": "scans", "reason": "Known."}
    bad = client.post(address, given | {"rules": "rename depth"})
    assert bad.status_code == 422
    assert "Line 1" in bad.content.decode()
    done = client.post(address, given | {"rules": RULES}, follow=True)
    page = done.content.decode()
    assert "“depth” is called “depth_cm”." in page
    assert "a second person reviews it" in page
    client.force_login(lead(mapping))
    made = DictionaryMapping.objects.get(state="proposed")
    assert f"/archive/mappings/{made.pk}/" in client.get("/").content.decode()
    done = client.post(f"/archive/mappings/{made.pk}/accept/", follow=True)
    assert "Cohorts are pooled by these rules" in done.content.decode()
    assert f"Mapping {mapping.pk}" in client.get(mapping.old.get_absolute_url()).content.decode()
    # Why it was declined is told to whoever proposed it.
    client.force_login(mapping.proposer)
    assert "Another wall." in client.get(mapping.get_absolute_url()).content.decode()


def test_a_program_proposes_and_accepts_as_people_do() -> None:
    mapping = make_mapping()
    decline_mapping(mapping, reason="Another wall.", by=lead(mapping))
    other = make_dictionary(make_study())
    steward, second = make_person(Role.STEWARD), make_person(Role.STEWARD)
    api = APIClient()
    api.force_authenticate(steward)
    sent = {
        "old": other.pk,
        "old_table": "scans",
        "table": "scans",
        "rules": RULES + "\nrename ray to ray",
        "reason": "The same sheet.",
    }
    made = api.post(f"/api/v1/dictionaries/{mapping.new_id}/propose_mapping/", sent, "json")
    assert made.status_code == 201, made.json()
    shown = made.json()
    assert shown["said"][-1] == "“ray” is the same column in both."
    assert shown["can"] == ["withdraw"]
    address = f"/api/v1/mappings/{shown['id']}/accept/"
    assert api.post(address).status_code == 403
    api.force_authenticate(second)
    assert api.post(address).json()["state"] == "accepted"


def test_rules_are_tried_on_the_rows_that_the_reviewer_may_read(client: Client) -> None:
    mapping = make_mapping()
    by = lead(mapping)
    client.force_login(by)
    address = mapping.get_absolute_url()
    assert "There are no rows to try them on." in client.get(address).content.decode()
    version = make_version(
        {"scans.csv": rows("1,R-01,2026-05-01,REST,1.5", "2,R-02,2026-05-01,SWIM,")},
        project=mapping.new.study.projects.get(),
        dictionary=mapping.old,
    )
    with pooling_here():
        page = client.get(address).content.decode()
        api = APIClient()
        api.force_authenticate(by)
        told = api.get(f"/api/v1{address.removeprefix('/archive')}trial/").json()
        assert f"Tried on {version}" in page
        for said in (">1.5</td>", ">150</td>", 'depth_cm <span class="unit">cm</span>'):
            assert said in page, said
        (table,) = told["tables"]
        assert (table["count"], table["lacking"], table["beyond"]) == (2, [], [])
        counts = [(one["values"], one["empty"], one["unread"]) for one in table["steps"]]
        assert counts == [(1, 1, 0), (1, 1, 0)]
        # What is closed to a person is tried for nobody's eyes but those that may read it.
        Version.objects.filter(pk=version.pk).update(
            access="restricted", restricted_because="A theft."
        )
        keeper = make_person(Role.KEEPER)
        client.force_login(keeper)
        assert "There are no rows to try them on." in client.get(address).content.decode()
        api.force_authenticate(keeper)
        closed = api.get(f"/api/v1{address.removeprefix('/archive')}trial/").json()
        assert closed == {"tables": [], "left_out": 0}
