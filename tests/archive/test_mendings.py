"""Safe corrections of a deposit: offered by its report, made as new drafts, nothing lost."""

import json
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from archive.acceptance import accept
from archive.actions import correct_deposit, submit_deposit
from archive.engine.reports import Report
from archive.mendings import mend, offered
from archive.models import Deposit, DepositFile, Mending
from archive.places import store
from archive.rounds import path_of
from registry.errors import Conflict, NotPermitted, Refusal
from registry.ledger import proof
from registry.ledger.models import Entry
from registry.people.actions import make_token
from registry.permissions import Role
from tests.worlds.archive import (
    check_here,
    descriptor,
    make_checked,
    make_submitted,
    put,
    rows,
    zipped,
)
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db


def spoiled(comma: str = ",5") -> bytes:
    """Give four scans whose depths have a decimal comma and whose days are written day first."""
    days = [timezone.localdate() - timedelta(days=10 * n) for n in range(4)]
    lines = [f'{n},R-01,{day:%d/%m/%Y},REST,"{n}{comma}"' for n, day in enumerate(days, start=1)]
    return rows(*lines)


def live(deposit: Deposit) -> dict[str, DepositFile]:
    return {file.name: file for file in deposit.files.filter(is_dropped=False)}


def numbers(deposit: Deposit) -> list[int]:
    return [one["number"] for one in offered(deposit)]


def test_a_spoiled_deposit_is_mended_in_a_new_round_and_then_sound() -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    assert deposit.verdict == "invalid"
    assert [one["kind"] for one in offered(deposit)] == ["day-month", "decimal-comma"]
    sent = live(deposit)["scans.csv"]
    mended = mend(deposit, numbers(deposit), by=deposit.maker)
    assert (mended.state, mended.round) == ("opened", 2)
    draft = live(mended)["scans.csv"]
    assert draft.round == 2
    assert path_of(draft).read_bytes() != path_of(sent).read_bytes() == spoiled()
    made = Mending.objects.get()
    assert (made.source, made.result, made.cells, made.made_by) == (
        sent,
        draft,
        8,
        deposit.maker,
    )
    assert [rule["kind"] for rule in made.corrections] == ["reorder_dates", "plain_numbers"]
    checked = check_here(submit_deposit(mended, by=deposit.maker))
    assert checked.verdict == "valid"
    assert offered(checked) == []


def test_the_version_holds_the_file_as_it_was_sent_and_how_it_was_corrected() -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    sent = live(deposit)["scans.csv"]
    mended = mend(deposit, numbers(deposit), by=deposit.maker)
    checked = check_here(submit_deposit(mended, by=deposit.maker))
    lead = lead_of(deposit.dataset.project)
    version = accept(checked, licence="CC-BY-4.0", access="open", by=lead)
    original = f"original/{sent.sha256[:12]}-scans.csv"
    assert version.manifest[original]["sha256"] == sent.sha256
    with store().open_file(version.identifier, "corrections.json") as opened:
        (told,) = json.load(opened)
    assert told["original"] == original
    assert told["result_sha256"] == live(checked)["scans.csv"].sha256
    assert [rule["kind"] for rule in told["corrections"]] == ["reorder_dates", "plain_numbers"]


def test_the_same_corrections_of_the_same_file_give_the_same_bytes() -> None:
    digests = set()
    for _ in range(2):
        deposit = make_checked({"scans.csv": spoiled()})
        mended = mend(deposit, numbers(deposit), by=deposit.maker)
        digests.add(live(mended)["scans.csv"].sha256)
    assert len(digests) == 1


def test_the_deed_is_in_the_ledger_without_a_value_of_the_data() -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    mend(deposit, numbers(deposit), by=deposit.maker)
    entry = Entry.objects.filter(verb="deposit.mend").get()
    assert "plain_numbers" in entry.text
    assert "1.5" not in json.dumps(json.loads(entry.text)["details"])  # the time may hold it
    found, _ = proof.check(with_subjects=True)
    assert [fault.what for fault in found] == []


def test_a_zip_is_mended_as_a_new_zip_and_its_descriptor_no_longer_tells_of_old_bytes() -> None:
    told: dict[str, Any] = descriptor()
    told["resources"][0] |= {"type": "table", "path": "scans.csv", "bytes": len(spoiled())}
    package = {"datapackage.json": json.dumps(told).encode(), "scans.csv": spoiled()}
    deposit = make_checked({"package.zip": zipped(package)})
    mended = mend(deposit, numbers(deposit), by=deposit.maker)
    assert list(live(mended)) == ["package.zip"]
    checked = check_here(submit_deposit(mended, by=deposit.maker))
    assert checked.verdict == "valid", checked.summary["counts"]


def test_a_descriptor_beside_the_table_is_put_right_with_it() -> None:
    told: dict[str, Any] = descriptor()
    told["resources"][0] |= {"type": "table", "path": "scans.csv", "bytes": len(spoiled())}
    sent = {"datapackage.json": json.dumps(told).encode(), "scans.csv": spoiled()}
    deposit = make_checked(sent)
    mended = mend(deposit, numbers(deposit), by=deposit.maker)
    made = json.loads(path_of(live(mended)["datapackage.json"]).read_text(encoding="utf-8"))
    assert "bytes" not in made["resources"][0]
    assert check_here(submit_deposit(mended, by=deposit.maker)).verdict == "valid"


def test_after_it_was_opened_again_the_corrections_are_still_offered_until_a_file_changes() -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    opened = correct_deposit(deposit, by=deposit.maker)
    assert len(offered(opened)) == 2
    put(opened, {"scans.csv": rows()})
    assert offered(opened) == []
    with pytest.raises(Conflict, match="no longer those that were checked"):
        mend(opened, [1], by=deposit.maker)
    assert not Mending.objects.exists()


def test_mending_an_opened_deposit_drops_what_it_replaces_and_keeps_it() -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    opened = correct_deposit(deposit, by=deposit.maker)
    mended = mend(opened, numbers(opened), by=deposit.maker)
    assert (mended.state, mended.round) == ("opened", 2)
    assert deposit.files.filter(is_dropped=True).count() == 2
    assert len(live(mended)) == 1
    with pytest.raises(Conflict):
        mend(Deposit.objects.get(pk=deposit.pk), [1], by=deposit.maker)


def test_a_correction_that_would_be_a_guess_is_not_offered_and_says_why(client: Client) -> None:
    deposit = make_checked({"scans.csv": spoiled(comma=",250")})
    assert [one["kind"] for one in offered(deposit)] == ["day-month"]
    client.force_login(deposit.maker)
    page = client.get(deposit.get_absolute_url()).content.decode()
    assert "Not corrected by the program:" in page
    assert "may part thousands or decimals" in page


def test_only_those_who_may_correct_the_deposit_may_have_it_mended() -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    for role in (Role.STEWARD, Role.CURATOR, Role.AUDITOR):
        with pytest.raises(NotPermitted):
            mend(deposit, [1], by=make_person(role))
    assert Deposit.objects.get(pk=deposit.pk).state == "checked"
    assert mend(deposit, [1], by=deposit.maker).state == "opened"


def test_a_submitted_deposit_is_not_mended() -> None:
    deposit = make_submitted({"scans.csv": spoiled()})
    with pytest.raises(Refusal):
        mend(deposit, [1], by=deposit.maker)


def test_a_cause_that_breaks_takes_nothing_from_the_report(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: object, **__: object) -> Report:
        raise ValueError("broken on purpose")

    monkeypatch.setattr("archive.engine.looking_back.suspect", broken)
    deposit = make_checked({"scans.csv": spoiled()})
    assert deposit.verdict == "invalid"
    assert deposit.summary["suspicions"] == []
    assert "were not looked for" in caplog.text


def test_the_report_shows_what_would_change_and_one_press_leads_to_the_draft(
    client: Client,
) -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    client.force_login(deposit.maker)
    home = deposit.get_absolute_url()
    page = client.get(home).content.decode()
    assert "What seems to have happened" in page
    assert page.index("What seems to have happened") < page.index("Must be put right")
    assert "Make all 2 corrections" in page
    assert page.count(f'method="post" action="{home}mend/"') == 3
    assert f"{home}mend/?corrections=1,2" in page
    page = client.get(f"{home}mend/?corrections=2").content.decode()
    assert "4 cells would change." in page
    assert "<mark>1,5</mark>" in page
    assert page.count("checked") >= 1
    page = client.post(f"{home}mend/", {"corrections": ["1", "2"]}, follow=True).content.decode()
    assert "A corrected draft was made" in page
    assert "As it was sent" in page
    assert "8 cells changed" in page
    again = client.post(f"{home}mend/", {"corrections": ["1"]})
    assert again.status_code == 422


def test_the_api_mends_and_gives_the_report_and_every_finding(client: Client) -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    secret, _ = make_token(deposit.maker, name="logger", days=3, scope="deeds", by=deposit.maker)
    heads = {"Authorization": f"Token {secret}"}
    home = f"/api/v1/deposits/{deposit.pk}/"
    report = client.get(f"{home}report/", headers=heads).json()
    first = report["suspicions"][1]
    assert first["kind"] == "decimal-comma"
    assert first["trial"]["cells"] == 4
    assert report["entries"][0]["runs"] == [[2, 5]]
    assert report["rows_found"]["table"] == 4
    given = [*report["all_findings"].values(), report["annotated"]]
    given += report["annotated_tables"].values()
    assert len(given) == 4
    for address in given:
        # A token opens what the report names, without signing in.
        answer = client.get(address, headers=heads)
        assert answer.status_code == 200, address
        assert answer.getvalue()
    told = client.get(f"{home}report/findings.json", headers=heads)
    assert len(json.loads(told.getvalue())) == sum(one["count"] for one in report["counts"])
    assert b"type-error" in client.get(f"{home}report/findings.csv", headers=heads).getvalue()
    book = client.get(f"{home}report/annotated.xlsx", headers=heads)
    assert book.getvalue()[:2] == b"PK"
    table = client.get(f"{home}report/annotated/scans.csv", headers=heads).getvalue()
    assert b"is not a number" in table
    assert client.get(f"{home}report/annotated/none.csv", headers=heads).status_code == 404
    stranger = make_person(Role.KEEPER)
    other, _ = make_token(stranger, name="logger", days=3, by=stranger)
    for path in ("findings.json", "findings.csv", "annotated.xlsx", "annotated/scans.csv"):
        answer = client.get(f"{home}report/{path}", headers={"Authorization": f"Token {other}"})
        assert answer.status_code == 404, path
    done = client.post(
        f"{home}mend/", {"corrections": ["2"]}, content_type="application/json", headers=heads
    )
    assert done.status_code == 200, done.content
    assert done.json()["state"] == "opened"


def test_the_page_gives_the_copies_with_the_findings_beside_the_rows(client: Client) -> None:
    deposit = make_checked({"scans.csv": spoiled()})
    client.force_login(deposit.maker)
    home = deposit.get_absolute_url()
    page = client.get(home).content.decode()
    for path in ("annotated.xlsx", "annotated/scans.csv", "findings.csv", "findings.json"):
        assert f"{home}{path}" in page
        answer = client.get(f"{home}{path}")
        assert answer.status_code == 200
        assert answer.getvalue()
    client.force_login(make_person(Role.KEEPER))
    for path in ("annotated.xlsx", "annotated/scans.csv"):
        assert client.get(f"{home}{path}").status_code == 404
