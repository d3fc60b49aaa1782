"""Intake of a deposit's file: proposed on a page, confirmed as a deed, kept with the version."""

import io
import json
import tempfile
import zipfile
from collections.abc import Mapping
from html import unescape
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter
from django.test import Client
from rest_framework.test import APIClient

from archive import actions
from archive.acceptance import accept
from archive.engine.intake import Converted, Recipe, convert
from archive.engine.intake.building import recipe_of
from archive.engine.limits import Limits
from archive.intakes import intake
from archive.models import Deposit, DepositFile, IntakeRecipe, Version
from archive.places import store
from archive.rounds import path_of, take_in
from archive.storage.quarantine import Kept
from registry.errors import Conflict, NotPermitted, Refusal, TooLarge, Unsound
from registry.permissions import Role
from registry.projects.models import Project
from tests.archive.engine.intake.making import book, cells
from tests.worlds.archive import check_here, make_opened, put
from tests.worlds.people import make_person
from tests.worlds.projects import lead_of

pytestmark = pytest.mark.django_db

PLAIN = "scan,ray,seen_on,posture,depth\n1,R-01,2026-11-24,REST,1.5\n2,R-02,2026-11-25,SWIM,2.25\n"
DRESSED = "Scans of autumn\n" + PLAIN.replace(",", ";").replace(".", ",")
SHEET = book(cells([line.split(",") for line in PLAIN.splitlines()]))


def with_file(
    content: bytes = DRESSED.encode(), name: str = "scans.csv", project: Project | None = None
) -> tuple[Deposit, DepositFile]:
    """Give an opened deposit with one file."""
    deposit = put(make_opened(project), {name: content})
    return deposit, deposit.files.get(is_dropped=False, name=name)


def made_of(
    deposit: Deposit, file: DepositFile, answers: Mapping[str, str] | None = None
) -> tuple[Recipe, Converted, Kept]:
    """Give the recipe that is proposed for a file, and what it makes, in quarantine."""
    recipe = recipe_of(intake(deposit, file).proposal, answers or {})
    with tempfile.TemporaryDirectory() as room:
        out = Path(room) / "out.csv"
        converted = convert(path_of(file), recipe, out)
        kept = take_in(deposit, "scans.csv", [out.read_bytes()])
    return recipe, converted, kept


def converted(deposit: Deposit, file: DepositFile, **more: Any) -> DepositFile:
    """Convert a file by what is proposed."""
    recipe, what, kept = made_of(deposit, file)
    given = {"file": file, "kept": kept, "recipe": recipe, "converted": what, "by": deposit.maker}
    return actions.convert_file(deposit, **(given | more))


def page_of(client: Client, deposit: Deposit, file: DepositFile, more: str = "") -> Any:
    client.force_login(deposit.maker)
    return client.get(f"/archive/deposits/{deposit.pk}/files/{file.pk}/intake/{more}")


def sent(page: Any) -> dict[str, str]:
    """Give what the page's form would send as it stands."""
    form = page.context["form"]
    return {name: str(form[name].value() or "") for name in form.fields}


# ------------------------------------------------------------------------------------- the page


def test_a_student_sees_what_is_proposed_and_confirms_it(client: Client) -> None:
    deposit, file = with_file()
    home = client.get(deposit.get_absolute_url())
    client.force_login(deposit.maker)
    home = client.get(deposit.get_absolute_url())
    assert f"/archive/deposits/{deposit.pk}/files/{file.pk}/intake/" in home.content.decode()
    page = page_of(client, deposit, file)
    text = unescape(page.content.decode())
    for words in ("Scans of autumn", "1,5", "1.5", "Semicolon", "Confirm and convert"):
        assert words in text
    done = client.post(page.request["PATH_INFO"], sent(page), follow=True)
    assert done.status_code == 200
    assert "The file was converted" in unescape(done.content.decode())
    assert "Converted files" in unescape(done.content.decode())
    live = deposit.files.get(is_dropped=False)
    assert path_of(live).read_text(encoding="utf-8") == PLAIN
    # The original is kept as it came.
    file.refresh_from_db()
    assert file.is_dropped
    assert path_of(file).read_bytes() == DRESSED.encode()
    made = IntakeRecipe.objects.get()
    assert (made.source, made.result, made.table) == (file, live, "scans")
    assert (made.source_sha256, made.result_sha256) == (file.sha256, live.sha256)
    assert made.row_map == [[2, 3, 2]]


def test_what_nothing_tells_is_asked_and_the_page_says_so(client: Client) -> None:
    either = DRESSED.replace("2026-11-24", "03/04/2026").replace("2026-11-25", "05/04/2026")
    deposit, file = with_file(either.encode())
    page = page_of(client, deposit, file)
    assert "One thing must be said by you" in page.content.decode()
    given = sent(page)
    refused = client.post(page.request["PATH_INFO"], given)
    assert refused.status_code == 422
    assert "which number is the day" in unescape(refused.content.decode())
    assert "dates-2" in refused.context["form"].errors
    assert not IntakeRecipe.objects.exists()
    # Another look by these choices shows what they would do, and converts nothing.
    look = client.post(page.request["PATH_INFO"], given | {"dates-2": "dmy", "again": "yes"})
    assert look.status_code == 200
    assert "2026-04-03" in look.content.decode()
    assert not IntakeRecipe.objects.exists()
    done = client.post(page.request["PATH_INFO"], sent(look))
    assert done.status_code == 302
    live = deposit.files.get(is_dropped=False)
    assert "2026-04-03" in path_of(live).read_text(encoding="utf-8")


def test_choices_about_columns_that_are_cut_otherwise_now_are_looked_at_again(
    client: Client,
) -> None:
    deposit, file = with_file()
    page = page_of(client, deposit, file)
    changed = client.post(page.request["PATH_INFO"], sent(page) | {"delimiter": ","})
    assert changed.status_code == 422
    assert not IntakeRecipe.objects.exists()


def test_another_look_by_another_sheet_proposes_its_columns_anew(client: Client) -> None:
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True}) as workbook:
        rows = [line.split(",") for line in PLAIN.splitlines()]
        cells(rows)(workbook, workbook.add_worksheet("Data"))
        cells([["remark", "said by"], ["fed late", "keeper"]])(
            workbook, workbook.add_worksheet("Notes")
        )
    deposit, file = with_file(made.getvalue(), "scans.xlsx")
    page = page_of(client, deposit, file)
    given = sent(page)
    assert (given["sheet"], given["column-0"]) == ("Data", "field scan")
    other = client.post(page.request["PATH_INFO"], given | {"sheet": "Notes", "again": "yes"})
    # What was said of the first sheet's columns is not taken for an answer about the other's.
    assert sent(other)["sheet"] == "Notes"
    assert not sent(other)["column-0"]
    refused = client.post(page.request["PATH_INFO"], given | {"sheet": "Notes"})
    assert refused.status_code == 422
    assert not IntakeRecipe.objects.exists()


def test_a_file_whose_place_is_taken_is_named_before_it_is(client: Client) -> None:
    deposit, file = with_file(SHEET, "autumn.xlsx")
    assert "It takes the place of" not in page_of(client, deposit, file).content.decode()
    put(deposit, {"scans.csv": PLAIN.encode()})
    page = page_of(client, deposit, file, "?table=scans")
    assert "It takes the place of scans.csv" in page.content.decode()
    there = deposit.files.get(name="scans.csv")
    api = APIClient()
    api.force_authenticate(deposit.maker)
    told = api.get(f"/api/v1/deposits/{deposit.pk}/intake/", {"file": file.pk}).json()
    assert (told["becomes"], told["replaces"]) == ("scans.csv", there.pk)


def test_what_no_choice_fitted_is_told_after_the_conversion(client: Client) -> None:
    deposit, file = with_file(DRESSED.replace("2,25", "2,25 m").encode())
    page = page_of(client, deposit, file)
    assert "1 cell that is no number" in unescape(page.content.decode())
    done = client.post(page.request["PATH_INFO"], sent(page), follow=True)
    told = "1 cell did not fit its choice and was left as it stood: depth, row 4: 2,25 m."
    # Once as a message, once beside the converted file.
    assert unescape(done.content.decode()).count(told) == 2


def test_a_workbook_among_the_files_is_said_to_need_a_table(client: Client) -> None:
    deposit, _ = with_file(SHEET, "scans.xlsx")
    client.force_login(deposit.maker)
    assert "Make a table of it" in client.get(deposit.get_absolute_url()).content.decode()
    texts, _ = with_file()
    client.force_login(texts.maker)
    home = client.get(texts.get_absolute_url()).content.decode()
    assert "Make a table of it" not in home
    assert "Look how it is read" in home


def test_a_bomb_is_refused_on_the_page_in_words(client: Client) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", '<workbook><sheets><sheet name="S" r:id="r1" '
                         'xmlns:r="r"/></sheets></workbook>')  # fmt: skip
        archive.writestr("xl/_rels/workbook.xml.rels", '<Relationships><Relationship Id="r1" '
                         'Target="worksheets/sheet1.xml"/></Relationships>')  # fmt: skip
        archive.writestr("xl/worksheets/sheet1.xml",
                         '<worksheet><sheetData><row><c r="XFD1048576"><v>1</v></c></row>'
                         "</sheetData></worksheet>")  # fmt: skip
    deposit, file = with_file(made.getvalue(), "scans.xlsx")
    page = page_of(client, deposit, file)
    assert page.status_code == 413
    assert "XFD1048576" in page.content.decode()


def test_who_may_only_look_gets_no_form_and_may_not_convert(client: Client) -> None:
    deposit, file = with_file()
    address = f"/archive/deposits/{deposit.pk}/files/{file.pk}/intake/"
    client.force_login(make_person(Role.STEWARD))
    page = client.get(address)
    assert page.status_code == 200
    assert "Confirm and convert" not in page.content.decode()
    assert client.post(address, {}).status_code == 403
    client.force_login(make_person(Role.STUDENT))
    assert client.get(address).status_code == 404


def test_a_file_of_another_deposit_is_not_found(client: Client) -> None:
    deposit, _ = with_file()
    _, other = with_file()
    page = page_of(client, deposit, other)
    assert page.status_code == 404


# -------------------------------------------------------------------------------- to the version


def test_a_workbook_is_refused_at_check_and_taken_on_its_intake_page(client: Client) -> None:
    deposit, file = with_file(SHEET, "scans.xlsx")
    checked = check_here(actions.submit_deposit(deposit, by=deposit.maker))
    assert checked.verdict != "valid"
    assert "intake page" in json.dumps(checked.summary)
    deposit = actions.correct_deposit(checked, by=deposit.maker)
    file = deposit.files.get(is_dropped=False)
    page = page_of(client, deposit, file)
    assert client.post(page.request["PATH_INFO"], sent(page)).status_code == 302
    again = check_here(actions.submit_deposit(Deposit.objects.get(pk=deposit.pk), by=deposit.maker))
    assert again.verdict == "valid", again.summary


def accepted(deposit: Deposit) -> Version:
    """Give the version that a deposit becomes."""
    checked = check_here(
        actions.submit_deposit(Deposit.objects.get(pk=deposit.pk), by=deposit.maker)
    )
    assert checked.verdict == "valid", checked.summary
    lead = lead_of(deposit.dataset.project)
    return accept(checked, licence="CC-BY-4.0", access="open", by=lead)


def test_a_version_holds_the_original_and_the_recipe_that_makes_it_again() -> None:
    deposit, file = with_file()
    converted(deposit, file)
    version = accepted(deposit)
    assert version.manifest["original/scans.csv"]["sha256"] == file.sha256
    told = version.descriptor["x:intake"]
    assert told == [
        {
            "table": "scans",
            "original": "original/scans.csv",
            "original_sha256": file.sha256,
            "result": "data/scans.csv",
        }
    ]
    assert "recipe.json" in version.manifest
    with tempfile.TemporaryDirectory() as room:
        place = Path(room)
        for name in ("original/scans.csv", "recipe.json", "data/scans.csv"):
            with store().open_file(version.identifier, name) as stream:
                (place / name.replace("/", "-")).write_bytes(stream.read())
        kept = json.loads((place / "recipe.json").read_text(encoding="utf-8"))
        assert kept[0]["steps"][0].startswith("Read the file as utf-8")
        recipe = Recipe.from_json(json.dumps(kept[0]["recipe"]))
        convert(place / "original-scans.csv", recipe, place / "again.csv", limits=Limits())
        assert (place / "again.csv").read_bytes() == (place / "data-scans.csv").read_bytes()
        assert (place / "again.csv").read_text(encoding="utf-8") == PLAIN


def test_a_recipe_lives_on_through_a_correction() -> None:
    deposit, file = with_file()
    converted(deposit, file)
    checked = check_here(
        actions.submit_deposit(Deposit.objects.get(pk=deposit.pk), by=deposit.maker)
    )
    corrected = actions.correct_deposit(checked, by=deposit.maker)
    version = accepted(corrected)
    assert version.manifest["original/scans.csv"]["sha256"] == file.sha256
    assert len(version.descriptor["x:intake"]) == 1


def test_the_steps_of_the_last_accepted_deposit_are_offered(client: Client) -> None:
    first, file = with_file()
    converted(first, file)
    accepted(first)
    project = first.dataset.project
    other = DRESSED.replace("R-0", "R-1")
    deposit, again = with_file(other.encode(), project=project)
    page = page_of(client, deposit, again)
    text = unescape(page.content.decode())
    assert "Use the steps of last time" in text
    same = page_of(client, deposit, again, "?same=yes")
    assert same.context["proposal"].changes == ()
    assert "As last time." in same.content.decode()
    assert client.post(same.request["PATH_INFO"], sent(same)).status_code == 302
    live = deposit.files.get(is_dropped=False)
    assert path_of(live).read_text(encoding="utf-8") == PLAIN.replace("R-0", "R-1")
    # What no longer fits is told before anything is confirmed.
    changed, third = with_file(other.replace("depth", "zzz").encode(), project=project)
    told = page_of(client, changed, third, "?same=yes")
    assert "“depth” is now named “zzz”" in unescape(told.content.decode())


def test_a_recipe_that_was_not_accepted_is_not_offered(client: Client) -> None:
    first, file = with_file()
    converted(first, file)
    deposit, again = with_file(project=first.dataset.project)
    assert "Same as last time" not in page_of(client, deposit, again).content.decode()


# -------------------------------------------------------------------------------------- the deed


def test_who_is_no_doer_of_the_project_may_not_convert() -> None:
    deposit, file = with_file()
    with pytest.raises(NotPermitted):
        converted(deposit, file, by=make_person(Role.STEWARD))
    assert converted(deposit, file).name == "scans.csv"


def test_the_deposit_does_not_hold_the_file() -> None:
    deposit, file = with_file()
    other, theirs = with_file()
    recipe, what, kept = made_of(deposit, file)
    with pytest.raises(Conflict):
        actions.convert_file(
            deposit, file=theirs, kept=kept, recipe=recipe, converted=what, by=deposit.maker
        )
    actions.drop_file(deposit, file=file, by=deposit.maker)
    file.refresh_from_db()
    with pytest.raises(Conflict):
        actions.convert_file(
            deposit, file=file, kept=kept, recipe=recipe, converted=what, by=deposit.maker
        )
    assert converted(other, theirs).deposit_id == other.pk


def test_the_table_was_made_of_other_bytes() -> None:
    deposit, file = with_file()
    recipe, what, kept = made_of(deposit, file)
    wrong = take_in(deposit, "scans.csv", [b"scan,ray\n"])
    with pytest.raises(Conflict) as caught:
        actions.convert_file(
            deposit, file=file, kept=wrong, recipe=recipe, converted=what, by=deposit.maker
        )
    assert "other bytes" in caught.value.why
    done = actions.convert_file(
        deposit, file=file, kept=kept, recipe=recipe, converted=what, by=deposit.maker
    )
    assert done.sha256 == kept.sha256


def test_the_package_would_hold_too_many_files_or_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    deposit, file = with_file()
    recipe, what, kept = made_of(deposit, file)
    given = {"file": file, "kept": kept, "recipe": recipe, "converted": what, "by": deposit.maker}
    for small in (Limits(package_files=0), Limits(package_bytes=10)):
        with monkeypatch.context() as patch:
            patch.setattr(actions.holding, "check_limits", lambda small=small: small)
            with pytest.raises(TooLarge):
                actions.convert_file(deposit, **given)
    assert actions.convert_file(deposit, **given)


def test_a_submitted_deposit_is_converted_no_more() -> None:
    deposit, file = with_file()
    recipe, what, kept = made_of(deposit, file)
    actions.submit_deposit(deposit, by=deposit.maker)
    with pytest.raises(Conflict):
        actions.convert_file(
            deposit, file=file, kept=kept, recipe=recipe, converted=what, by=deposit.maker
        )


def test_one_workbook_gives_several_tables(client: Client) -> None:
    deposit, file = with_file(SHEET, "scans.xlsx")
    converted(deposit, file)
    page = page_of(client, deposit, file)
    assert "Converted before" in page.content.decode()
    assert client.post(page.request["PATH_INFO"], sent(page)).status_code == 302
    assert IntakeRecipe.objects.filter(source=file).count() == 2
    assert deposit.files.filter(is_dropped=False).count() == 1


# --------------------------------------------------------------------------------------- the API


def test_a_program_gets_the_proposal_and_confirms_it() -> None:
    either = DRESSED.replace("2026-11-24", "03/04/2026").replace("2026-11-25", "05/04/2026")
    deposit, file = with_file(either.encode())
    api = APIClient()
    api.force_authenticate(deposit.maker)
    address = f"/api/v1/deposits/{deposit.pk}"
    told = api.get(f"{address}/intake/", {"file": file.pk})
    assert told.status_code == 200
    made = told.json()
    asked = [one["key"] for one in made["decisions"] if one["is_asked"]]
    assert asked == ["dates:2"]
    assert made["tables"] == ["scans"]
    refused = api.post(f"{address}/convert/", {"file": file.pk}, format="json")
    assert refused.status_code == 422
    assert set(refused.json()["fields"]) == {"dates:2"}
    answers = {"dates:2": "dmy"}
    look = api.get(f"{address}/intake/", {"file": file.pk, "answers": json.dumps(answers)}).json()
    assert look["after"][1][3] == "2026-04-03"
    done = api.post(
        f"{address}/convert/",
        {"file": file.pk, "answers": answers, "mark": look["mark"]},
        format="json",
    )
    assert done.status_code == 200, done.json()
    assert [one["name"] for one in done.json()["files"]] == ["scans.csv"]


@pytest.mark.parametrize(
    "given",
    [{"file": "x"}, {"file": "999999"}, {"answers": "["}, {"answers": '{"a": 1}'},
     {"table": "none"}],
    ids=str,
)  # fmt: skip
def test_a_program_that_asks_wrongly_is_told_so(given: dict[str, str]) -> None:
    deposit, file = with_file()
    api = APIClient()
    api.force_authenticate(deposit.maker)
    listed = api.get(f"/api/v1/deposits/{deposit.pk}/intake/").json()
    assert [one["id"] for one in listed["files"]] == [file.pk]
    asked = {"file": str(file.pk)} | given
    answer = api.get(f"/api/v1/deposits/{deposit.pk}/intake/", asked)
    assert answer.status_code in {404, 422}
    assert {"what", "why", "next"} <= set(answer.json())


def test_a_dictionary_without_that_table_is_said() -> None:
    deposit, file = with_file()
    with pytest.raises(Unsound) as caught:
        intake(deposit, file, table="eggs")
    assert isinstance(caught.value, Refusal)
    assert "scans" in caught.value.next
