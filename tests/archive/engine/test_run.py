"""The one entry point: all rows, no silent limit, and a crash is never "valid"."""

import json

import pytest

from archive.engine.findings import Group, Verdict
from archive.engine.limits import Limits
from archive.engine.reports import Report, StoredFindings
from archive.engine.run import check, check_table

V2 = "https://datapackage.org/profiles/2.0/datapackage.json"


def schema(*fields: tuple[str, str], **rest: object) -> dict[str, object]:
    return {"fields": [{"name": name, "type": kind} for name, kind in fields]} | rest


@pytest.fixture
def judge(tmp_path):
    def judge(text: str, shape: dict[str, object], **options: object) -> Report:
        path = tmp_path / "eggs.csv"
        path.write_text(text, encoding="utf-8")
        return check_table(path, shape, name="eggs", **options)

    return judge


def codes(report: Report) -> list[tuple[str, int | None, str]]:
    return [(finding.code, finding.row, finding.field) for finding in report.findings]


def test_every_one_of_many_faults_is_told_for_there_is_no_silent_limit(judge):
    text = "id,eggs\n" + "".join(f"{number},none\n" for number in range(2_500))
    report = judge(text, schema(("id", "integer"), ("eggs", "integer")))
    assert report.counts == {(Group.TABLE, "type-error"): 2_500}
    assert len(report.findings) == 2_500
    assert not report.is_limited
    (tally,) = report.tallies
    assert (tally.count, tally.first_row, tally.last_row) == (2_500, 2, 2_501)
    assert report.tables[0].rows == 2_500


def test_a_limited_check_says_so_and_is_never_valid(judge):
    shape = schema(("id", "integer"), uniqueKeys=[["id"]])
    text = "id\n" + "1\n" * 50
    assert len(judge(text, shape).findings) == 49
    report = judge(text, shape, limit_findings=5)
    assert report.is_limited
    assert report.verdict is Verdict.INVALID
    assert len(report.findings) == 5


def test_a_check_cut_short_by_findings_that_do_not_block_is_not_checked(judge):
    shape = {"fields": [{"name": f"column{number}"} for number in range(4)]}
    text = ",".join(f"column{number}" for number in range(4)) + "\n" + "a,b,c,d\n"
    assert judge(text, shape).verdict is Verdict.VALID
    limited = judge(text, shape, limit_findings=2)
    assert limited.verdict is Verdict.NOT_CHECKED
    assert "stopped at 2 findings" in limited.reason


def test_findings_go_to_a_file_as_they_come_and_are_read_back_one_by_one(judge, tmp_path):
    path = tmp_path / "findings.jsonl"
    text = "id\n" + "x\n" * 30
    shape = schema(("id", "integer"))
    stored = judge(text, shape, findings_path=path)
    assert isinstance(stored.findings, StoredFindings)
    assert len(stored.findings) == len(path.read_text(encoding="utf-8").splitlines()) == 30
    assert tuple(stored.findings) == judge(text, shape).findings
    back = Report.from_dict(
        json.loads(json.dumps(stored.as_dict(with_findings=False))), stored=path
    )
    assert back.tallies == stored.tallies
    assert back.tables == stored.tables
    assert tuple(back.findings) == tuple(stored.findings)
    whole = Report.from_dict(json.loads(json.dumps(stored.as_dict())))
    assert whole.findings == tuple(stored.findings)


def test_a_missing_column_is_one_finding_wherever_it_stood(judge):
    shape = schema(("id", "integer"), ("day", "date"), ("eggs", "integer"), ("note", "string"))
    rows = "".join(f"{number},{number % 7},pale\n" for number in range(300))
    report = judge(f"id,eggs,note\n{rows}", shape)
    assert codes(report) == [("missing-label", 1, "day")]
    assert report.verdict is Verdict.INVALID
    last = judge("id,day,eggs\n1,2026-03-01,4\n", shape)
    assert codes(last) == [("missing-label", 1, "note")]


def test_a_missing_column_that_is_required_and_unique_and_the_key_is_one_finding_too(judge):
    shape = schema(("id", "integer"), ("eggs", "integer"), primaryKey="id")
    shape["fields"][0]["constraints"] = {"required": True, "unique": True}
    assert codes(judge("eggs\n4\n5\n", shape)) == [("missing-label", 1, "id")]


def test_columns_in_another_order_are_told_and_their_cells_read_by_name(judge):
    shape = schema(("id", "integer"), ("day", "date"))
    assert codes(judge("day,id\n2026-03-01,1\n2026-03-02,x\n", shape)) == [
        ("incorrect-label", 1, "id"),
        ("incorrect-label", 1, "day"),
        ("type-error", 3, "id"),
    ]
    by_name = judge("day,id\n2026-03-01,1\n", shape | {"fieldsMatch": "equal"})
    assert by_name.verdict is Verdict.VALID


def test_no_known_column_at_all_is_told_once_where_columns_may_be_left_out(judge):
    shape = schema(("id", "integer"), fieldsMatch="partial")
    assert codes(judge("a,b\n1,2\n", shape)) == [("unmatched-header", 1, "")]


def test_a_time_with_a_zone_against_a_bound_without_is_not_checked_and_rows_before_it_are(judge):
    shape = schema(("at", "datetime"), ("eggs", "integer"))
    shape["fields"][0]["constraints"] = {"minimum": "2026-03-01T00:00:00"}
    report = judge("at,eggs\n2026-03-02T00:00:00,x\n2026-03-02T00:00:00Z,1\n", shape)
    assert codes(report) == [("type-error", 2, "eggs"), ("not-checked", 3, "")]
    assert report.verdict is Verdict.INVALID
    alone = judge("at,eggs\n2026-03-02T00:00:00Z,1\n", shape)
    assert codes(alone) == [("not-checked", 2, "")]
    assert alone.verdict is Verdict.NOT_CHECKED
    assert "zone" in alone.findings[0].message


def test_a_key_that_cannot_be_hashed_is_not_checked_and_never_a_fault_of_the_program(judge):
    report = judge('id\n"[1]"\n"[2]"\n', schema(("id", "array"), primaryKey=["id"]))
    assert report.verdict is Verdict.NOT_CHECKED
    assert codes(report)[0][0] == "not-checked"
    unique = judge('id\n"[1]"\n"[1]"\n', schema(("id", "array"), uniqueKeys=[["id"]]))
    assert codes(unique) == [("unique-keys", 3, "id")]


def test_values_that_overflow_or_are_no_numbers_do_not_stop_the_summary(judge):
    text = "n\n1e400\n-1e400\nNaN\nINF\n3\n1e308\n-1e308\n"
    report = judge(text, schema(("n", "number")))
    assert report.verdict is Verdict.VALID
    (column,) = report.tables[0].columns
    assert (column.least, column.greatest, column.bins) == ("-1e+308", "1e+308", ())


def test_a_link_to_a_table_that_cannot_be_read_is_said_not_to_have_been_followed(tmp_path):
    link = {"fields": ["egg"], "reference": {"resource": "eggs", "fields": ["id"]}}
    tables = [
        {"name": "eggs", "path": "eggs.csv", "schema": schema(("id", "string"))},
        {"name": "hatched", "path": "hatched.csv",
         "schema": schema(("egg", "string"), foreignKeys=[link])},
    ]  # fmt: skip
    (tmp_path / "eggs.csv").write_bytes(b"id\n\xe5\n")
    (tmp_path / "hatched.csv").write_text("egg\nES-01\n", encoding="utf-8")
    report = check(tmp_path, descriptor={"$schema": V2, "resources": tables})
    assert [(f.code, f.table) for f in report.findings] == [
        ("encoding-error", "eggs"),
        ("not-checked", "hatched"),
    ]


def test_a_package_over_its_limit_and_counts_that_differ_are_told(judge, tmp_path):
    shape = schema(("id", "integer"))
    report = judge("id\n1\n", shape, limits=Limits(package_bytes=3))
    assert codes(report) == [("package-too-large", None, "")]
    resource = {"name": "eggs", "path": "eggs.csv", "schema": shape, "fields": 2}
    told = check(tmp_path, descriptor={"$schema": V2, "resources": [resource]})
    assert codes(told) == [("field-count", None, "")]


def test_a_file_that_is_no_table_is_weighed_and_hashed(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"egg")
    resource = {"name": "photo", "path": "photo.jpg", "bytes": 3}
    # The digest of "egg", from coreutils' sha256sum.
    digest = "7b4cffd6d4d6fdd9af9a2bdb6a2ac8a3d9e6a0ffd4bb0b8e8e3ed5ab0cf4b4a7"
    report = check(tmp_path, descriptor={"$schema": V2, "resources": [resource]})
    assert report.verdict is Verdict.VALID
    (file,) = report.files
    assert (file.bytes, len(file.sha256)) == (3, 64)
    wrong = resource | {"bytes": 4, "hash": f"sha256:{digest[::-1]}"}
    told = check(tmp_path, descriptor={"$schema": V2, "resources": [wrong]})
    assert [code for code, *_ in codes(told)] == ["hash-count", "byte-count"]
    odd = check(tmp_path, descriptor={"$schema": V2, "resources": [resource | {"hash": "x:1"}]})
    assert [code for code, *_ in codes(odd)] == ["hash-count"]


def test_a_link_out_of_the_folder_is_not_followed(tmp_path):
    (tmp_path / "secret.csv").write_text("id\n1\n", encoding="utf-8")
    inner = tmp_path / "package"
    inner.mkdir()
    (inner / "eggs.csv").symlink_to(tmp_path / "secret.csv")
    resource = {"name": "eggs", "path": "eggs.csv", "schema": schema(("id", "integer"))}
    report = check(inner, descriptor={"$schema": V2, "resources": [resource]})
    assert codes(report) == [("unsafe-path", None, "")]


def test_a_layout_that_frictionless_refuses_is_told_under_its_own_name(judge):
    report = judge("id\n1\n", schema(("id", "integer")), dialect={"csv": {"delimiter": 3}})
    assert report.verdict is Verdict.INVALID
    assert codes(report)[0][0] in {"control-error", "dialect-error"}


def test_progress_goes_up_to_one(judge, monkeypatch):
    # Chunks are of the slow way; test_ways asks the same of the fast one.
    monkeypatch.setenv("STRANDLINE_ENGINE", "slow")
    monkeypatch.setattr("archive.engine.table.CHUNK_ROWS", 10)
    told: list[float] = []
    judge("id\n" + "1\n" * 95, schema(("id", "integer")), progress=told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) > 5


def test_a_fault_behind_the_last_whole_chunk_is_found(judge, monkeypatch):
    monkeypatch.setattr("archive.engine.table.CHUNK_ROWS", 4)
    shape = schema(("id", "integer"), ("day", "date"), uniqueKeys=[["id"]])
    text = "id,day\n" + "".join(f"{number},2026-03-01\n" for number in range(9)) + "0,x\n"
    assert codes(judge(text, shape)) == [("type-error", 11, "day"), ("unique-keys", 11, "id")]


def test_a_version_1_descriptor_is_read_as_such(tmp_path):
    (tmp_path / "eggs.csv").write_text("id\n1\n", encoding="utf-8")
    resource = {"name": "eggs", "path": "eggs.csv", "schema": schema(("id", "integer"))}
    assert check(tmp_path, descriptor={"resources": [resource]}).verdict is Verdict.VALID
    resource["schema"]["fields"][0]["constraints"] = {"exclusiveMinimum": 0}
    told = check(tmp_path, descriptor={"resources": [resource]})
    assert [finding.code for finding in told.findings] == ["field-error"]
    assert check(tmp_path, descriptor={"$schema": V2, "resources": [resource]}).verdict == "valid"
