"""Each golden package holds one fault, and brings forth just the findings written down for it."""

import json
from pathlib import Path

import pytest

from archive.engine.codes import CODES
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Group, Verdict
from archive.engine.reports import Report
from archive.engine.run import check

PACKAGES = Path(__file__).resolve().parents[3] / "fixtures" / "packages"
EXPECTED = json.loads((PACKAGES / "expected.json").read_text(encoding="utf-8"))
FACTS = RegisterFacts.from_json((PACKAGES / "facts.json").read_text(encoding="utf-8"))

# Codes that no small package can bring forth, with the test that does.
ELSEWHERE = {
    "blank-header": "frictionless has no path to it: an empty first row is a blank label",
    "unmatched-header": "test_run",
    "field-count": "test_run",
    "resource-error": "test_descriptor",
    "dialect-error": "test_reading",
    "control-error": "test_run",
    "metadata-error": "the root of the descriptor's errors",
    "error": "for an error that a later frictionless may bring",
    "cell-too-large": "test_reading",
    "table-too-large": "test_reading",
    "package-too-large": "test_run",
    "missing-table": "test_dictionary",
    "schema-differs": "test_dictionary",
    "extra-table": "test_dictionary",
    "rows-vanished": "test_drafts",
}


def judge(name: str) -> Report:
    return check(PACKAGES / name, facts=FACTS)


def test_every_folder_is_in_the_list_and_every_entry_has_a_folder():
    assert {path.name for path in PACKAGES.iterdir() if path.is_dir()} == set(EXPECTED)


@pytest.mark.parametrize("name", sorted(EXPECTED))
def test_a_golden_package_brings_forth_its_own_findings_and_no_others(name):
    report = judge(name)
    told = [[f.code, f.table, f.row, f.field] for f in report.findings]
    assert told == EXPECTED[name]
    blocking = any(CODES[code].group is Group.TABLE for code, *_ in told)
    if name == "not-checked" or name.startswith("descriptor-unreadable"):
        assert report.verdict is Verdict.NOT_CHECKED
    else:
        assert report.verdict is (Verdict.INVALID if blocking else Verdict.VALID)


def test_every_code_has_a_golden_package_or_a_named_test():
    golden = {code for expected in EXPECTED.values() for code, *_ in expected}
    assert golden.isdisjoint(ELSEWHERE)
    assert golden | set(ELSEWHERE) == set(CODES)


def test_without_the_register_a_package_with_register_faults_is_plainly_valid():
    report = check(PACKAGES / "not-enrolled")
    assert report.verdict is Verdict.VALID
    assert not report.findings


def test_a_register_finding_never_blocks_and_is_told_with_its_day():
    report = judge("outside-approval-weekday")
    assert report.verdict is Verdict.VALID
    assert report.count(Group.REGISTER) == 1
    (finding,) = report.findings
    assert "Saturday 2026-05-02" in finding.message
    assert "Do not delete" in finding.remedy or "do not delete" in finding.remedy


def test_the_columns_of_the_valid_package_are_summed_up():
    table = judge("valid").tables[1]
    assert (table.name, table.rows) == ("hatching", 12)
    columns = {column.name: column for column in table.columns}
    hatched = columns["hatched"]
    assert (hatched.role, hatched.unit, hatched.filled) == ("outcome", "{eggs}", 1.0)
    # Added up by hand from hatching.csv: 12 values from 5 to 15.
    assert (hatched.least, hatched.greatest, sum(hatched.bins)) == ("5", "15", 12)
    assert columns["note"].filled == pytest.approx(1 / 12)
    assert (columns["day"].least, columns["day"].greatest) == ("2026-05-11", "2026-05-13")
    assert dict(columns["observer"].values) == {"OB-1": 6, "OB-2": 6}
