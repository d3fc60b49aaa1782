"""Pooled tables: read out of their sources, behind the same check, and never a row more."""

import io
import json
import zipfile
from collections.abc import Iterator
from datetime import timedelta

import pandas as pd
import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from archive.acceptance import accept
from archive.actions import (
    accept_mapping,
    erase_version,
    pool_cohorts,
    propose_mapping,
    publish_dictionary,
    submit_deposit,
    withdraw_mapping,
    withdraw_pool,
    withdraw_version,
)
from archive.extending.lines import read
from archive.models import Deposit, PooledTable, Version
from archive.places import store
from archive.terms import Terms, check_terms
from registry.errors import Conflict, NotPermitted, Unsound
from registry.oversight.models import Breach
from registry.permissions import Role
from tests.worlds.approvals import make_collecting
from tests.worlds.archive import check_here, descriptor, make_pool, make_version, pooling_here
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of, student_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def here() -> Iterator[None]:
    with pooling_here():
        yield


@pytest.mark.postgres
def test_cohorts_are_looked_at_sifted_summed_up_and_taken_away_as_one_table(
    client: Client,
) -> None:
    pool = make_pool()
    client.force_login(pool.maker)
    assert pool.get_absolute_url() in client.get(pool.study.get_absolute_url()).content.decode()
    page = client.get(pool.get_absolute_url()).content.decode()
    first, second = pool.sources.order_by("accepted_at")
    assert "5 rows of 2 versions" in page
    assert page.index(f">{first.identifier}<") < page.index(f">{second.identifier}<")
    asked = {"column1": "depth", "how1": "at least", "value1": "3", "by1": "_source", "of": "depth"}
    page = client.get(pool.get_absolute_url(), asked).content.decode()
    assert "3 rows of 2 versions" in page
    assert ">3.25</td>" in page
    assert "rows.csv?column1=depth&amp;how1=at+least&amp;value1=3" in page
    wrong = client.get(pool.get_absolute_url(), asked | {"value1": "deep"})
    assert wrong.status_code == 422
    assert 'value="deep"' in wrong.content.decode()
    taken = client.get(f"{pool.get_absolute_url()}rows.csv", asked)
    frame = pd.read_csv(io.BytesIO(b"".join(taken.streaming_content)))  # type: ignore[attr-defined]  # why: it streams
    assert sorted(frame["depth"]) == [3.25, 3.5, 4.5]
    # What is pooled is what lies in the store, cell by cell: pandas reads that by itself.
    whole = client.get(f"{pool.get_absolute_url()}rows.parquet")
    pooled = pd.read_parquet(io.BytesIO(b"".join(whole.streaming_content)))  # type: ignore[attr-defined]  # why: it streams
    for version in (first, second):
        with store().open_file(version.identifier, "data/scans.csv") as opened:
            held = pd.read_csv(opened)
        ours = pooled[pooled["_source"] == version.identifier]
        assert list(ours["depth"]) == list(held["depth"])
        assert list(ours["ray"]) == list(held["ray"])
        assert list(ours["_source_row"]) == list(range(2, len(held) + 2))


@pytest.mark.postgres
def test_a_pooled_table_is_seen_by_those_alone_who_may_read_every_source(client: Client) -> None:
    pool = make_pool()
    first, second = pool.sources.order_by("accepted_at")
    keeper, address = make_person(Role.KEEPER), pool.get_absolute_url()
    client.force_login(keeper)
    assert client.get(address).status_code == 200
    Version.objects.filter(pk=first.pk).update(
        access="embargoed", embargoed_until=timezone.localdate() + timedelta(days=1)
    )
    for path in ("", "rows.csv", "rows.parquet", "rows.xlsx", "spreadsheet.csv"):
        assert client.get(f"{address}{path}").status_code == 404
    api = APIClient()
    api.force_authenticate(keeper)
    assert api.get("/api/v1/pools/").json()["count"] == 0
    assert api.get(f"/api/v1/pools/{pool.pk}/rows/").status_code == 404
    assert address not in client.get(pool.study.get_absolute_url()).content.decode()
    with pytest.raises(Unsound, match="not open to you"):
        pool_cohorts(pool.study, table="scans", sources=[first, second], by=keeper)
    again = make_version(project=second.dataset.project)
    with pytest.raises(Unsound, match="would stand twice"):
        pool_cohorts(pool.study, table="scans", sources=[again, second], by=pool.maker)
    # The embargo ends by the calendar; nothing has to run at night for it.
    Version.objects.filter(pk=first.pk).update(embargoed_until=timezone.localdate())
    assert client.get(address).status_code == 200
    client.logout()
    assert client.get(address).status_code == 302
    # What was withdrawn is pooled no more, and the page says which.
    client.force_login(pool.maker)
    steward = make_person(Role.STEWARD)
    withdraw_version(first, ground="superseded", reason="A column was wrong.", by=steward)
    page = client.get(pool.get_absolute_url()).content.decode()
    assert f"Withdrawn since it was pooled: {first}" in page
    assert client.get(f"{pool.get_absolute_url()}rows.csv").status_code == 409
    Version.objects.filter(pk=first.pk).update(ground="consent")
    assert client.get(pool.get_absolute_url()).status_code == 404


def test_an_older_dictionary_is_pooled_through_an_accepted_mapping_alone(client: Client) -> None:
    first = make_version()
    study, old = first.dataset.project.study, first.dictionary
    assert old is not None
    newer = descriptor()
    fields = newer["resources"][0]["schema"]["fields"]
    fields[3]["x:ethogram"][1] |= {"code": "MOVE"}
    fields[4] |= {"name": "depth_cm", "x:unit": "cm", "constraints": {"minimum": 0}}
    world = make_collecting(study=study, cohort="2027–28")
    new = publish_dictionary(study, descriptor=newer, by=world.lead)
    table = b"scan,ray,seen_on,posture,depth_cm\n1,R-01,2026-05-01,MOVE,220\n"
    second = make_version({"scans.csv": table}, project=world.project, dictionary=new)
    by = student_of(world.project)

    def pool() -> PooledTable:
        return pool_cohorts(study, table="scans", sources=[first, second], by=by)

    with pytest.raises(Unsound, match="this has no rule: posture"):
        pool()
    mapping = propose_mapping(
        new,
        old=old,
        old_table="scans",
        table="scans",
        rules=read(
            "recode posture: REST to REST, SWIM to MOVE\n"
            "convert depth from m to cm\nrename depth to depth_cm"
        ),
        reason="Held to the same wall; swimming is what moving was.",
        by=by,
    )
    with pytest.raises(Unsound, match="this has no rule"):
        pool()
    accept_mapping(mapping, by=world.lead)
    made = pool()
    client.force_login(by)
    api = APIClient()
    api.force_authenticate(by)
    told = api.get(f"/api/v1/pools/{made.pk}/rows/", {"by": "posture", "of": "depth_cm"}).json()
    assert [one["name"] for one in told["columns"]] == [
        "scan", "ray", "seen_on", "posture", "depth_cm",
    ]  # fmt: skip
    assert [row[4] for row in told["rows"]] == ["150", "250", "350", "450", "220"]
    assert {key[0]: found["count"] for key, found in told["groups"]} == {"REST": 2, "MOVE": 3}
    where = '[{"column": "posture", "how": "is", "value": "MOVE"}]'
    assert api.get(f"/api/v1/pools/{made.pk}/rows/", {"where": where}).json()["count"] == 3
    for wrong in ("[1]", "{", '{"how": 1}', '[{"column": "\\ud800", "how": "is"}]'):
        answer = api.get(f"/api/v1/pools/{made.pk}/rows/", {"where": wrong})
        assert answer.status_code == 422, wrong
    assert mapping.get_absolute_url() in client.get(made.get_absolute_url()).content.decode()
    withdraw_mapping(mapping, reason="Another wall.", by=by)
    page = client.get(made.get_absolute_url()).content.decode()
    assert f"Withdrawn since it was pooled: {mapping}" in page


@pytest.mark.postgres
def test_a_pooled_table_becomes_a_version_that_names_its_sources_and_outlives_it(
    client: Client,
) -> None:
    pool = make_pool()
    first, second = pool.sources.order_by("accepted_at")
    project = second.dataset.project
    client.force_login(pool.maker)
    breaches = Breach.objects.count()
    done = client.post(f"{pool.get_absolute_url()}deposit/", {"project": project.pk})
    assert done.status_code == 302, done.content.decode()
    deposit = Deposit.objects.get(pool=pool)
    # What was read out of the archive is not changed on its way.
    client.post(f"{deposit.get_absolute_url()}drop_file/", {"file": deposit.files.all()[0].pk})
    assert deposit.files.filter(is_dropped=False).count() == 2
    assert "Add files" not in client.get(deposit.get_absolute_url()).content.decode()
    checked = check_here(submit_deposit(deposit, by=pool.maker))
    # What the register says of the rows was told where they came from: no breach opens twice.
    assert (checked.verdict, Breach.objects.count()) == ("valid", breaches)
    lead = lead_of(project)
    Version.objects.filter(pk=first.pk).update(
        access="embargoed", embargoed_until=timezone.localdate() + timedelta(days=30)
    )
    with pytest.raises(Unsound, match="under embargo until"):
        accept(checked, licence="CC-BY-4.0", access="open", by=lead)
    with pytest.raises(Unsound, match="Its sources are under CC-BY"):
        accept(checked, licence="CC0-1.0", access="restricted", restricted_because="x", by=lead)
    Version.objects.filter(pk=first.pk).update(access="open", embargoed_until=None)
    version = accept(checked, licence="CC-BY-4.0", access="open", by=lead)
    assert version.rows == 5
    assert version.dataset.is_pooled
    assert second.dataset.versions.get() == second
    told = version.descriptor
    assert [one["version"] for one in told["sources"]] == ["1.0.0", "1.0.0"]
    ids = [first.identifier, second.identifier]
    assert [one["identifier"] for one in told["x:pooled"]["sources"]] == ids
    page = client.get(version.get_absolute_url()).content.decode()
    assert f'<a href="{pool.get_absolute_url()}">' in page
    client.logout()
    page = client.get(version.get_absolute_url()).content.decode()
    assert all(f'<a href="{one.get_absolute_url()}">{one}</a>' in page for one in (first, second))
    assert f'<a href="{pool.get_absolute_url()}">' not in page
    record = client.get(f"{version.get_absolute_url()}citation.xml").content.decode()
    assert all(f'relationType="IsDerivedFrom">{one}<' in record for one in ids)
    crate = zipfile.ZipFile(
        io.BytesIO(b"".join(client.get(f"{version.get_absolute_url()}crate.zip").streaming_content))  # type: ignore[attr-defined]  # why: it streams
    )
    graph = json.loads(crate.read("ro-crate-metadata.json"))["@graph"]
    root = next(one for one in graph if one["@id"] == "./")
    assert [one["@id"] for one in root["isBasedOn"]] == ids
    # Once a source is closed, so is what was made of it; one that was only replaced closes nothing.
    address = f"{version.get_absolute_url()}package.zip"
    steward = make_person(Role.STEWARD)
    withdraw_version(first, ground="superseded", reason="A better one.", by=steward)
    assert client.get(address).status_code == 200
    becomes_stale_and_is_withdrawn(client, pool, version)
    withdraw_version(second, ground="consent", reason="They asked.", by=steward)
    assert client.get(address).status_code == 403
    with pytest.raises(Conflict, match="Its rows lie in"):
        erase_version(second, reason="They asked.", by=steward)


def becomes_stale_and_is_withdrawn(client: Client, pool: PooledTable, version: Version) -> None:
    """Withdraw a table of which a source was withdrawn; the version made of it stays."""
    client.force_login(pool.maker)
    address, study = pool.get_absolute_url(), pool.study.get_absolute_url()
    assert "out of date" in client.get(study).content.decode()
    assert "out of date" in client.get(address).content.decode()
    api = APIClient()
    api.force_authenticate(pool.maker)
    assert api.get(f"/api/v1/pools/{pool.pk}/").json()["is_stale"] is True
    terms = Terms("CC-BY-4.0", "open")
    with pytest.raises(Conflict, match="Withdrawn since it was pooled"):
        check_terms(version.deposit, terms)
    with pytest.raises(NotPermitted):
        withdraw_pool(pool, reason="Not mine.", by=make_person(Role.KEEPER))
    with pytest.raises(Unsound):
        withdraw_pool(pool, reason=" ", by=pool.maker)
    assert "withdraw it on its own page" in client.get(f"{address}withdraw/").content.decode()
    done = client.post(f"{address}withdraw/", {"reason": "Two walls."}, follow=True)
    page = done.content.decode()
    assert done.status_code == 410
    for said in ("Two walls.", version.get_absolute_url(), "a version made of it stays"):
        assert said in page, said
    assert "withdrawn" in client.get(study).content.decode()
    for path in ("rows.csv", "rows.parquet"):
        assert client.get(f"{address}{path}").status_code == 410
    told = api.get(f"/api/v1/pools/{pool.pk}/").json()
    assert (told["state"], told["can"], told["withdrawn_because"]) == (
        "withdrawn",
        [],
        "Two walls.",
    )
    assert api.get(f"/api/v1/pools/{pool.pk}/rows/").status_code == 410
    with pytest.raises(Conflict):
        withdraw_pool(pool, reason="Again.", by=pool.maker)
    with pytest.raises(Conflict, match="The pooled table was withdrawn: Two walls"):
        check_terms(Deposit.objects.get(version=version), terms)
    assert client.get(version.get_absolute_url()).status_code == 200
    client.logout()
