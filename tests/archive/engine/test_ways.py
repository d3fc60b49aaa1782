"""Fast or slow, a table has one report; and where the slow way was taken, the report says why."""

import importlib
import json
import os
import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from archive.engine import way
from archive.engine.facts import RegisterFacts
from archive.engine.fast import verdicts
from archive.engine.findings import Group, Verdict
from archive.engine.reports import Report
from archive.engine.run import check, check_table
from archive.engine.watch import check_in_child, kernel_folder
from tests.worlds.random_tables import write_case

ROOT = Path(__file__).resolve().parents[3]
PACKAGES = ROOT / "fixtures" / "packages"
DICTIONARIES = ROOT / "fixtures" / "demo" / "dictionaries"
FACTS = RegisterFacts.from_json((PACKAGES / "facts.json").read_text(encoding="utf-8"))

ETHOGRAM = [
    {"code": code, "kind": "state", "exclusive": "activity", "validFrom": version}
    for code, version in (("REST", 1), ("SWIM", 1), ("GUARD", 2))
]
SCHEMA: dict[str, Any] = {
    "fields": [
        {"name": "id", "type": "integer"},
        {"name": "day", "type": "date", "x:role": "time"},
        {"name": "at", "type": "datetime", "x:role": "time"},
        {"name": "clutch", "type": "string", "x:role": "animal"},
        {"name": "keeper", "type": "string", "x:role": "observer"},
        {"name": "tank", "type": "string", "x:role": "place"},
        {"name": "session", "type": "string", "x:role": "session"},
        {"name": "water", "type": "string", "categories": ["aerated", "still"]},
        {"name": "eggs", "type": "integer", "x:role": "outcome", "constraints": {"maximum": 500}},
        {"name": "length", "type": "number", "x:role": "covariate", "x:unit": "%"},
        {"name": "note", "type": "string"},
        {"name": "seen", "type": "string", "x:ethogram": ETHOGRAM},
    ],
    "primaryKey": ["clutch", "id"],
    "uniqueKeys": [["eggs", "water"], ["length"]],
}


def rows(draw: random.Random, count: int) -> str:
    """Draw a table in which every check finds something now and then."""
    lines = [",".join(field["name"] for field in SCHEMA["fields"])]
    for number in range(count):
        cells = [
            str(number if draw.random() > 0.02 else number // 2),
            draw.choice(["2026-04-05", "2026-05-01", "2026-05-02", "2026-06-09", "", "2026-02-30"])
            if draw.random() < 0.2
            else "2026-05-05",
            draw.choice(
                [f"2026-05-05T10:0{draw.randint(0, 9)}:00", "2026-05-05T09:00:00+01:00", ""]
            ),
            draw.choice(["CE-01", "CE-02", "CE-03", "CE-04", "CE-99", " CE-01", ""]),
            draw.choice(["OB-1", "OB-2", "OB-9", ""]),
            draw.choice(["T1", "T2", "T-nowhere", ""]),
            draw.choice(["S-1", "S-2", "S-none", ""]),
            draw.choice(["aerated", "still", "bubbly", ""]),
            draw.choice([str(draw.randint(0, 90_000)), "7", "0007", "", "many"]),
            draw.choice([f"{draw.random():.3f}", "1.50", "1.5", "1e3", "", "900000"]),
            draw.choice(["", '"a, ""b"""', "NA", "é"]),
            draw.choice(["REST", "SWIM", "GUARD", "FLY", ""]),
        ]
        if draw.random() < 0.01:
            cells.append("more")
        if draw.random() < 0.01:
            del cells[draw.randint(1, 9) :]
        lines.append(",".join(cells))
    return "\n".join(lines) + "\n"


@pytest.fixture
def both(monkeypatch):
    """Check a thing both ways, and give the two reports."""

    def both(check: Any, *args: Any, **options: Any) -> tuple[Report, Report]:
        reports = []
        for word in ("fast", "slow"):
            monkeypatch.setenv(way.SWITCH, word)
            reports.append(check(*args, **options))
        return reports[0], reports[1]

    return both


def without_notes(report: Report) -> Report:
    return replace(report, tables=tuple(replace(table, note="") for table in report.tables))


@pytest.mark.parametrize("name", sorted(path.name for path in PACKAGES.iterdir() if path.is_dir()))
def test_every_golden_package_has_one_report_whichever_way_it_is_read(name, both):
    fast, slow = both(check, PACKAGES / name, facts=FACTS)
    assert without_notes(fast) == slow


@pytest.mark.parametrize("seed", range(4))
def test_our_own_checks_and_those_of_the_register_find_the_same_both_ways(seed, both, tmp_path):
    path = tmp_path / "eggs.csv"
    path.write_text(rows(random.Random(seed), 3_000), encoding="utf-8")
    fast, slow = both(check_table, path, SCHEMA, facts=FACTS)
    assert fast.tables[0].note == ""
    assert fast == slow
    assert {code for _, code in fast.counts} >= {
        "type-error", "constraint-error", "primary-key", "unique-keys", "category-error",
        "null-in-key", "extra-cell", "missing-cell", "not-enrolled", "outside-approval",
        "unknown-observer", "unknown-place", "unknown-session", "unusual-value",
        "unlikely-value", "later-code", "exclusive-states", "uneven-interval",
    }  # fmt: skip
    assert fast.count(Group.REGISTER) > 1_000


def test_random_tables_have_one_report_whichever_way_they_are_read(both, tmp_path):
    told = 0
    for seed in range(5_000, 5_030):
        descriptor = write_case(tmp_path, seed)
        fast, slow = both(check, tmp_path, descriptor=descriptor)
        assert without_notes(fast) == slow, f"seed {seed}"
        told += len(fast.findings)
    assert told > 150


def test_the_rows_of_the_last_draft_that_are_gone_are_listed_both_ways(both, tmp_path):
    for name, text in (("old", "id,n\n1,a\n2,b\n3,c\n"), ("new", "id,n\n1,a\n3,c\n")):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "eggs.csv").write_text(text, encoding="utf-8")
        schema = {"fields": [{"name": "id", "type": "integer"}, {"name": "n"}], "primaryKey": "id"}
        shape = {"resources": [{"name": "eggs", "path": "eggs.csv", "schema": schema}]}
        (folder / "datapackage.json").write_text(json.dumps(shape), encoding="utf-8")
    reports = both(check, tmp_path / "new", previous=tmp_path / "old")
    assert reports[0] == reports[1]
    assert [f.value for f in reports[0].findings if f.code == "rows-vanished"] == ["2"]


def test_what_the_kernel_does_not_know_is_read_the_slow_way_and_the_report_says_why(
    monkeypatch, tmp_path
):
    monkeypatch.setenv(way.SWITCH, "fast")
    path = tmp_path / "eggs.csv"
    path.write_text("# a note\nid\n1\nx\n", encoding="utf-8")
    report = check_table(
        path, {"fields": [{"name": "id", "type": "integer"}]},
        dialect={"commentChar": "#", "headerRows": [2]},
    )  # fmt: skip
    assert report.tables[0].note == "Read the slow way, because its layout leaves out rows."
    assert [finding.code for finding in report.findings] == ["type-error"]
    again = Report.from_dict(json.loads(json.dumps(report.as_dict())))
    assert again.tables[0].note == report.tables[0].note


def test_a_reader_that_crashes_is_told_at_its_row_and_the_rows_before_it_are_judged(
    monkeypatch, tmp_path
):
    monkeypatch.setenv(way.SWITCH, "fast")
    shape = {
        "fields": [
            {"name": "at", "type": "datetime", "constraints": {"minimum": "2026-03-01T00:00:00"}},
            {"name": "eggs", "type": "integer"},
        ]
    }
    path = tmp_path / "eggs.csv"
    path.write_text("at,eggs\n2026-03-02T00:00:00,x\n2026-03-02T00:00:00Z,1\n", encoding="utf-8")
    report = check_table(path, shape)
    assert [(one.code, one.row) for one in report.findings] == [
        ("type-error", 2),
        ("not-checked", 3),
    ]
    assert "broke off" in report.tables[0].note


def test_without_the_kernel_every_table_is_read_the_slow_way(monkeypatch, tmp_path):
    def missing(name: str) -> Any:
        raise ImportError(name)

    path = tmp_path / "eggs.csv"
    path.write_text("id\n1\nx\n", encoding="utf-8")
    shape = {"fields": [{"name": "id", "type": "integer"}]}
    monkeypatch.setenv(way.SWITCH, "fast")
    with_kernel = check_table(path, shape)
    monkeypatch.setattr(importlib, "import_module", missing)
    assert way.kernel() is None
    assert check_table(path, shape) == with_kernel


def test_where_the_compiler_cannot_be_imported_a_large_table_is_judged_all_the_same(tmp_path):
    """In a process of its own, in which nothing has loaded it before."""
    rows_ = "".join(f"{n}\n" for n in range(70_000))
    (tmp_path / "eggs.csv").write_text(f"id\n{rows_}x\n7\n", encoding="utf-8")
    program = """
import json, sys
from pathlib import Path
sys.modules.update(dict.fromkeys(("numba", "llvmlite")) if sys.argv[2] == "without" else {})
from archive.engine.run import check_table
shape = {"fields": [{"name": "id", "type": "integer"}], "primaryKey": "id"}
report = check_table(Path(sys.argv[1]) / "eggs.csv", shape)
print(json.dumps([report.as_dict(), "archive.engine.fast.judging" in sys.modules]))
"""
    told = []
    for how in ("with", "without"):
        command = [sys.executable, "-c", program, str(tmp_path), how]
        around = {key: value for key, value in os.environ.items() if key != way.SWITCH}
        run = subprocess.run(
            command, cwd=ROOT, env=around, check=True, capture_output=True, text=True
        )
        told.append(json.loads(run.stdout))
    (with_it, is_loaded), (without, is_loaded_there) = told
    assert (is_loaded, is_loaded_there) == (True, False)
    assert with_it == without
    assert [one["row"] for one in with_it["findings"]] == [70_002, 70_002, 70_003]


def test_a_name_that_only_shares_its_digest_with_one_of_the_other_table_is_told(
    monkeypatch, tmp_path
):
    monkeypatch.setenv(way.SWITCH, "fast")
    digest_of = verdicts.digest_of
    forged = {"x": "a"}
    monkeypatch.setattr(verdicts, "digest_of", lambda v, s: digest_of(forged.get(v, v), s))
    limits = {"enum": ["a", "b", "x"]}
    link = {"fields": ["name"], "reference": {"resource": "names", "fields": ["name"]}}
    field = {"name": "name", "type": "string"}
    eggs = {"fields": [field | {"constraints": limits}], "foreignKeys": [link]}
    (tmp_path / "eggs.csv").write_text("name\na\nx\n", encoding="utf-8")
    (tmp_path / "names.csv").write_text("name\na\nb\n", encoding="utf-8")
    report = check(
        tmp_path,
        descriptor={
            "resources": [
                {"name": "eggs", "path": "eggs.csv", "schema": eggs},
                {"name": "names", "path": "names.csv", "schema": {"fields": [field]}},
            ]
        },
    )
    assert [(one.code, one.row) for one in report.findings] == [("foreign-key", 3)]
    assert "one digest" in report.tables[0].note


@pytest.mark.parametrize("there", ["", "names"])
def test_what_is_no_number_is_found_in_no_table_though_its_digest_is(
    monkeypatch, both, tmp_path, there
):
    monkeypatch.setattr("archive.engine.fast.links.FAR_BYTES", 0)
    link = {"fields": ["depth"], "reference": {"resource": there, "fields": ["depth"]}}
    schema = {"fields": [{"name": "depth", "type": "number"}]}
    for name in ("eggs", "names"):
        (tmp_path / f"{name}.csv").write_text("depth\n1.5\nNaN\nINF\n1.50\n", encoding="utf-8")
    tables = [("eggs", schema | {"foreignKeys": [link]}), ("names", schema)]
    shape = [{"name": name, "path": f"{name}.csv", "schema": one} for name, one in tables]
    fast, slow = both(check, tmp_path, descriptor={"resources": shape})
    assert without_notes(fast) == slow
    assert [(one.code, one.row) for one in fast.findings] == [("foreign-key", 3)]


def test_a_limited_check_says_so_the_fast_way_too(monkeypatch, tmp_path):
    monkeypatch.setenv(way.SWITCH, "fast")
    path = tmp_path / "eggs.csv"
    path.write_text("id\n" + "x\n" * 500, encoding="utf-8")
    shape = {"fields": [{"name": "id", "type": "integer"}]}
    report = check_table(path, shape, limit_findings=7)
    assert report.is_limited
    assert len(report.findings) == 7
    assert report.verdict is not Verdict.VALID
    assert len(check_table(path, shape).findings) == 500


class Cancelled(Exception):
    """The person pressed the button."""


def test_progress_is_told_while_a_table_is_read_and_may_stop_the_check(monkeypatch, tmp_path):
    monkeypatch.setenv(way.SWITCH, "fast")
    monkeypatch.setattr("archive.engine.fast.stream.BLOCK_BYTES", 4_096)
    path = tmp_path / "eggs.csv"
    path.write_text("id\n" + "".join(f"{n}\n" for n in range(20_000)), encoding="utf-8")
    shape = {"fields": [{"name": "id", "type": "integer"}]}
    told: list[float] = []
    check_table(path, shape, progress=told.append)
    assert len(told) > 20
    assert told == sorted(told)

    def stop(share: float) -> None:
        if share > 0.3:
            raise Cancelled

    with pytest.raises(Cancelled):
        check_table(path, shape, progress=stop)


def test_a_small_table_does_not_wait_for_the_kernel_and_a_large_one_is_read_by_it(
    monkeypatch, tmp_path
):
    monkeypatch.delenv(way.SWITCH, raising=False)
    asked: list[str] = []
    kernel = way.kernel
    monkeypatch.setattr(way, "kernel", lambda part="judging": asked.append(part) or kernel(part))
    shape = {"fields": [{"name": "id", "type": "integer"}]}
    path = tmp_path / "eggs.csv"
    for rows_, expected in ((10, []), (70_000, ["survey", "judging"])):
        path.write_text("id\n" + "".join(f"{n}\n" for n in range(rows_)), encoding="utf-8")
        assert check_table(path, shape).verdict is Verdict.VALID
        assert asked == expected


@pytest.mark.parametrize("path", sorted(DICTIONARIES.glob("*.json")), ids=lambda path: path.stem)
def test_no_table_of_the_demo_s_dictionaries_is_read_the_slow_way(path, monkeypatch, tmp_path):
    monkeypatch.setenv(way.SWITCH, "fast")
    descriptor = json.loads(path.read_text(encoding="utf-8"))
    for resource in descriptor["resources"]:
        names = [field["name"] for field in resource["schema"]["fields"]]
        (tmp_path / resource["path"]).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / resource["path"]).write_text(
            ",".join(names) + "\n" + ",".join("1" for _ in names) + "\n", encoding="utf-8"
        )
    report = check(tmp_path, descriptor=descriptor, facts=FACTS)
    assert len(report.tables) == len(descriptor["resources"])
    assert [table.note for table in report.tables] == [""] * len(report.tables)


def test_the_compiled_kernel_is_kept_where_nobody_else_may_write(monkeypatch, tmp_path):
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setenv("STRANDLINE_VAR", str(tmp_path))
    folder = kernel_folder()
    assert folder == tmp_path / "kernel"
    assert folder.stat().st_mode & 0o077 == 0
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "elsewhere"))
    assert kernel_folder() == tmp_path / "elsewhere"


def test_the_child_reads_a_large_table_by_the_kernel_within_its_limits(monkeypatch, tmp_path):
    monkeypatch.setenv(way.SWITCH, "fast")
    (tmp_path / "eggs.csv").write_text("id\n1\n1\nx\n", encoding="utf-8")
    shape = {
        "resources": [
            {
                "name": "eggs",
                "path": "eggs.csv",
                "schema": {"fields": [{"name": "id", "type": "integer"}], "primaryKey": "id"},
            }
        ]
    }
    (tmp_path / "datapackage.json").write_text(json.dumps(shape), encoding="utf-8")
    there = check_in_child(tmp_path)
    assert there == check(tmp_path)
    assert there.tables[0].note == ""
    told = [(finding.code, finding.row) for finding in there.findings]
    assert told == [("primary-key", 3), ("type-error", 4), ("primary-key", 4)]
