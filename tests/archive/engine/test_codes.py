"""The table of codes is whole: each finding has a group, a title and a remedy."""

import ast
from pathlib import Path

import pytest
from frictionless import errors
from frictionless.checks import baseline

from archive.engine import codes
from archive.engine.codes import CODES, Place, found
from archive.engine.findings import VALUE_LENGTH, Finding, Group

ENGINE = Path(codes.__file__).parent


@pytest.mark.parametrize("name", sorted(CODES))
def test_every_code_has_a_remedy_in_whole_sentences(name):
    entry = CODES[name]
    remedy = entry.remedy(Place("hatching", 7, "hatched", "x"))
    assert entry.title
    assert not entry.title.endswith(".")
    assert remedy[0].isupper() or remedy.startswith("datapackage.json")
    assert remedy.endswith(".")
    assert len(remedy) > 20


def test_every_error_that_frictionless_may_give_of_a_table_has_our_remedy():
    given = {error.type for error in baseline.Errors}
    given |= {
        error.type
        for error in (
            errors.PackageError,
            errors.ResourceError,
            errors.SchemaError,
            errors.FieldError,
            errors.DialectError,
            errors.ControlError,
            errors.SourceError,
            errors.SchemeError,
            errors.FormatError,
            errors.EncodingError,
            errors.CompressionError,
            errors.MetadataError,
            errors.Error,
        )
    }
    standard = {name for name, code in CODES.items() if code.is_standard}
    assert given == standard


def test_no_code_of_ours_has_a_name_that_frictionless_has():
    theirs = {error.type for error in errors.Error.list_children(root=True)}
    assert theirs.isdisjoint(name for name, code in CODES.items() if not code.is_standard)


def test_every_code_that_the_engine_writes_is_in_the_table():
    written = set()
    for path in ENGINE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and getattr(node.func, "id", "") == "found"
                and isinstance(node.args[0], ast.Constant)
            ):
                written.add(node.args[0].value)
    assert len(written) > 30
    assert written <= set(CODES)


def test_a_code_that_is_not_in_the_table_cannot_be_found():
    with pytest.raises(KeyError):
        found("no-such-code", "Nothing.")


def test_a_finding_survives_its_own_json_and_a_long_cell_is_cut():
    finding = found("type-error", "No.", table="hatching", row=3, field="hatched", value="x" * 999)
    assert len(finding.value) == VALUE_LENGTH
    assert finding.value.endswith("…")
    assert Finding.from_dict(finding.as_dict()) == finding
    assert finding.group is Group.TABLE
