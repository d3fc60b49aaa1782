"""The command that loads the reference data."""

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError

from registry.animals.models import Taxon
from registry.approvals.models import PermissionKind
from registry.ledger.models import Entry
from registry.ledger.proof import check
from registry.projects.models import Procedure

pytestmark = pytest.mark.django_db
TAXON = {"scientific_name": "Raja undulata", "common_name": "ray", "taxon_class": "bony_fish"}
PROCEDURE = {"code": "watch", "name": "watch", "is_contact": False, "severity": 0}
KIND = {"code": "ethics", "name": "ethics", "satisfied_by": "approval", "source": "its own"}
BODY = {"code": "owner", "name": "owner", "jurisdiction": "anywhere", "is_ethics": False}


def lay(folder: Path, **rows: list[dict[str, Any]]) -> Path:
    given = {
        "taxa": [TAXON],
        "procedures": [PROCEDURE],
        "permission_kinds": [KIND],
        "bodies": [BODY],
        "return_categories": [],
        "retention": [],
        "trainings": [],
        **rows,
    }
    for name, listed in given.items():
        shape = {"dated": "2026-11-25", "source": "a test", "rows": listed}
        (folder / f"{name}.json").write_text(json.dumps(shape), encoding="utf-8")
    return folder


def load(folder: Path) -> str:
    said = StringIO()
    call_command("load_vocabulary", folder=folder, stdout=said)
    return said.getvalue()


def test_a_second_run_changes_nothing_and_a_changed_row_is_brought_up_to_date(
    tmp_path: Path,
) -> None:
    assert "1 new, 0 changed" in load(lay(tmp_path))
    taxon = Taxon.objects.get()
    assert taxon.source == "a test (2026-11-25)"
    assert (Procedure.objects.get().code, PermissionKind.objects.get().source) == (
        "watch",
        "its own",
    )
    entries = Entry.objects.count()
    again = load(tmp_path)
    assert again.count("0 new, 0 changed") == 7
    assert Entry.objects.count() == entries
    mended = load(lay(tmp_path, taxa=[{**TAXON, "taxon_class": "cartilaginous_fish"}]))
    assert "0 new, 1 changed" in mended
    taxon.refresh_from_db()
    assert taxon.taxon_class == "cartilaginous_fish"
    assert Entry.objects.about(taxon).count() == 2
    assert check(with_subjects=True)[0] == []


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        ([{**TAXON, "taxon_class": "dragon"}], "taxa.json, row 1"),
        ([TAXON, {**TAXON, "scientific_name": "Raja clavata", "wings": 2}], "taxa.json, row 2"),
    ],
)
def test_a_row_that_does_not_hold_loads_nothing_and_is_named(
    tmp_path: Path, rows: list[dict[str, Any]], why: str
) -> None:
    with pytest.raises(CommandError, match=why):
        load(lay(tmp_path, taxa=rows))
    assert not Taxon.objects.exists()


def test_a_list_that_is_missing_or_broken_is_named_and_nothing_is_loaded(tmp_path: Path) -> None:
    lay(tmp_path)
    kept = tmp_path / "permission_kinds.json"
    kept.unlink()
    with pytest.raises(CommandError, match=r"permission_kinds\.json is not there"):
        load(tmp_path)
    kept.write_text("{", encoding="utf-8")
    with pytest.raises(CommandError, match="is no JSON"):
        load(tmp_path)
    kept.write_text('{"rows": []}', encoding="utf-8")
    with pytest.raises(CommandError, match="must hold"):
        load(tmp_path)
    assert not Taxon.objects.exists()


def test_the_list_of_taxa_that_comes_with_the_program_holds_the_six_of_the_demo() -> None:
    path = settings.ROOT / "fixtures" / "vocabulary" / "taxa.json"
    listed = json.loads(path.read_text(encoding="utf-8"))
    assert listed["dated"]
    assert listed["source"]
    names = [row["scientific_name"] for row in listed["rows"]]
    assert len(names) == len(set(names)) >= 26
    assert {
        "Raja undulata",
        "Sepia officinalis",
        "Cyclopterus lumpus",
        "Hippocampus hippocampus",
        "Pygoscelis papua",
        "Enteroctopus dofleini",
    } <= set(names)
    for row in listed["rows"]:
        Taxon(**row).full_clean()
