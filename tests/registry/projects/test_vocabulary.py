"""The vocabularies: dated, sourced, and sound rows of their models."""

import json
from datetime import date

import pytest

from registry.approvals.models import PermissionKind
from registry.projects.models import Procedure
from tests.worlds.projects import VOCABULARY

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("name", "model"), [("procedures", Procedure), ("permission_kinds", PermissionKind)]
)
def test_a_vocabulary_is_dated_and_sourced_and_its_rows_hold(name: str, model: type) -> None:
    told = json.loads((VOCABULARY / f"{name}.json").read_text(encoding="utf-8"))
    assert date.fromisoformat(told["dated"])
    assert told["source"]
    codes = [row["code"] for row in told["rows"]]
    assert len(set(codes)) == len(codes) > 5
    for row in told["rows"]:
        model(**row).full_clean()
        assert row["source"]


def test_each_procedure_with_contact_carries_a_caution() -> None:
    rows = json.loads((VOCABULARY / "procedures.json").read_text(encoding="utf-8"))["rows"]
    for row in rows:
        assert row["caution"] or not row["is_contact"], row["code"]
        assert row["is_contact"] or row["severity"] == 0, row["code"]
