"""A check runs in a child with limits; whatever happens to it, the parent has a report."""

import json
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from archive.engine import child, watch
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Group, Verdict
from archive.engine.gathering import gather
from archive.engine.limits import Limits
from archive.engine.looking_back import look_back
from archive.engine.run import check
from archive.engine.watch import ROOT, check_in_child
from archive.engine.way import SWITCH
from registry.guarded.child import FORBIDDEN, OUT_OF_MEMORY
from tests.archive.spoiled import DESCRIPTOR, SPOILED

PACKAGES = ROOT / "fixtures" / "packages"
FACTS = RegisterFacts.from_json((PACKAGES / "facts.json").read_text(encoding="utf-8"))
TODAY = date(2026, 11, 24)
SLOW_PATTERN = {
    "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
    "resources": [
        {
            "name": "eggs",
            "path": "eggs.csv",
            "schema": {
                "fields": [{"name": "id", "type": "string", "constraints": {"pattern": "(a+)+b"}}]
            },
        }
    ],
}


@pytest.mark.parametrize("name", ["valid", "not-enrolled", "type-error", "unclosed-quote"])
def test_the_child_s_report_is_the_one_that_the_engine_gives_here(name):
    told: list[float] = []
    there = check_in_child(PACKAGES / name, facts=FACTS, progress=told.append)
    here = check(PACKAGES / name, facts=FACTS)
    assert there == here
    assert told[-1] == 1.0


def test_what_is_told_of_a_report_is_made_in_the_child_with_its_causes(tmp_path):
    for name, content in (
        {one.name: one for one in SPOILED}["decimal comma in depth"].files().items()
    ):
        (tmp_path / name).write_bytes(content)
    asked = {"expected": DESCRIPTOR, "facts": FACTS}
    there = check_in_child(tmp_path, today=TODAY, **asked)
    here = check(tmp_path, **asked)
    told = look_back(tmp_path, here, today=TODAY, limits=Limits(), **asked)
    assert there.told.to_explain == told.to_explain
    # It comes out of the child as JSON, in which a pair is a list.
    assert there.told.summary == json.loads(json.dumps(told.summary))
    assert [one["kind"] for one in told.summary["suspicions"]] == ["decimal-comma"]
    assert {one.code for one in told.to_explain} == {
        tally.code for tally in here.tallies if tally.group is Group.REGISTER
    }


def test_a_verdict_that_was_told_stands_though_the_child_dies_while_it_looks_back(
    monkeypatch, tmp_path
):
    here = check(PACKAGES / "not-enrolled", facts=FACTS, findings_path=tmp_path / "kept.jsonl")
    says = json.dumps({"report": here.as_dict(with_findings=False)})
    dies = f"import sys; sys.stdin.read(); print({says!r}, flush=True); sys.exit({OUT_OF_MEMORY})"
    monkeypatch.setattr(watch, "COMMAND", (sys.executable, "-c", dies))
    path = tmp_path / "kept.jsonl"
    there = check_in_child(tmp_path, findings_path=path, today=TODAY)
    assert (there.verdict, list(there.findings)) == (here.verdict, list(here.findings))
    assert there.told.summary == gather(here).summary
    assert "of memory" in there.told.fault


def test_a_pattern_that_would_take_for_ever_is_stopped_by_computing_and_by_the_clock(tmp_path):
    (tmp_path / "eggs.csv").write_text("id\naab\n" + "a" * 40 + "c\n", encoding="utf-8")
    for limits, word in ((Limits(cpu_s=2), "computing"), (Limits(wall_s=2), "longer than")):
        report = check_in_child(tmp_path, descriptor=SLOW_PATTERN, limits=limits)
        assert report.verdict is Verdict.NOT_CHECKED
        assert word in report.reason
        assert [finding.code for finding in report.findings] == ["not-checked"]


def test_a_pattern_that_would_take_for_ever_costs_its_table_seconds_and_not_the_whole_check(
    tmp_path,
):
    (tmp_path / "eggs.csv").write_text("id\naab\n" + "a" * 40 + "c\n", encoding="utf-8")
    report = check_in_child(tmp_path, descriptor=SLOW_PATTERN, limits=Limits(wall_s=120))
    assert report.verdict is Verdict.NOT_CHECKED
    told = [finding for finding in report.findings if finding.code == "not-checked"]
    assert [(finding.table, finding.row) for finding in told] == [("eggs", 3)]
    assert "patterns" in told[0].message


def test_too_little_memory_is_told_and_never_valid(tmp_path):
    rows = "".join(f"{number}{'x' * 10_000}\n" for number in range(25_000))
    (tmp_path / "eggs.csv").write_text(f"id\n{rows}", encoding="utf-8")
    schema = {"fields": [{"name": "id", "type": "string"}], "uniqueKeys": [["id"]]}
    package = {"resources": [{"name": "eggs", "path": "eggs.csv", "schema": schema}]}
    limits = Limits(memory_bytes=320 * 1024**2)
    assert check_in_child(PACKAGES / "valid", limits=limits).verdict is Verdict.VALID
    report = check_in_child(tmp_path, descriptor=package, limits=limits)
    assert report.verdict is Verdict.NOT_CHECKED
    assert "of memory" in report.reason


class CalledOffError(Exception):
    """Whoever listened has gone."""


def test_the_child_ends_with_the_one_who_listens_to_it(monkeypatch, tmp_path):
    started: list[subprocess.Popen[str]] = []
    popen = subprocess.Popen
    monkeypatch.setattr(
        "archive.engine.watch.subprocess.Popen",
        lambda *args, **options: started.append(popen(*args, **options)) or started[-1],
    )

    def leave(_share: float) -> None:
        assert started[0].poll() is None
        raise CalledOffError

    monkeypatch.setenv(SWITCH, "slow")
    (tmp_path / "eggs.csv").write_text(f"id\n{'aab' * 9}\n" * 40_000, encoding="utf-8")
    schema = {"fields": [{"name": "id", "type": "string"}]}
    package = {"resources": [{"name": "eggs", "path": "eggs.csv", "schema": schema}]}
    with pytest.raises(CalledOffError):
        check_in_child(tmp_path, descriptor=package, progress=leave)
    assert started[0].poll() is not None


def test_findings_made_before_the_child_was_stopped_are_kept(monkeypatch, tmp_path):
    # The fast way tells nothing before a table's end.
    monkeypatch.setenv(SWITCH, "slow")
    rows = "aab\n" * 25_000
    (tmp_path / "eggs.csv").write_text(f"id\nx\n{rows}{'a' * 40}c\n", encoding="utf-8")
    path = tmp_path / "findings.jsonl"
    report = check_in_child(
        tmp_path, descriptor=SLOW_PATTERN, limits=Limits(cpu_s=5), findings_path=path
    )
    assert report.verdict is Verdict.NOT_CHECKED
    told = list(report.findings)
    assert len(report.findings) == 2
    assert [(finding.code, finding.row) for finding in told] == [
        ("constraint-error", 2),
        ("not-checked", None),
    ]


@pytest.mark.parametrize(
    "deed",
    [
        "import socket; socket.create_connection(('127.0.0.1', 9))",
        "import socket; socket.getaddrinfo('example.org', 80)",
        "import subprocess; subprocess.run(['true'])",
        "import os; os.system('true')",
    ],
)
def test_a_confined_child_opens_no_connection_and_starts_no_program(deed):
    lines = (
        "from archive.engine.child import confine",
        "from archive.engine.limits import Limits",
        "confine(Limits())",
        deed,
    )
    done = subprocess.run(
        [sys.executable, "-c", "\n".join(lines)],
        check=False,
        cwd=ROOT,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert "A check may not do this" in done.stderr


def test_the_child_is_handed_no_settings_of_ours(monkeypatch, tmp_path):
    monkeypatch.setenv("STRANDLINE_SECRET_KEY", "a secret")
    seen = {}
    real = subprocess.Popen

    def watched(*args, **options):
        seen.update(options["env"])
        return real(*args, **options)

    monkeypatch.setattr("archive.engine.watch.subprocess.Popen", watched)
    assert check_in_child(PACKAGES / "valid").verdict is Verdict.VALID
    # The one word of ours that a child is told is how to read.
    assert {name for name in seen if "STRANDLINE" in name} <= {SWITCH}


def test_the_light_modules_load_nothing_heavy():
    heavy = {"frictionless", "pandas", "numpy", "django"}
    light = ["codes", "facts", "descriptor", "reports", "unpack", "watch", "package"]
    lines = "; ".join(f"import archive.engine.{name}" for name in light)
    script = f"import sys; {lines}; print(sorted({heavy!r} & set(sys.modules)))"
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_the_child_refuses_only_what_a_check_never_needs():
    assert "open" not in FORBIDDEN
    assert Path(child.__file__).name == "child.py"
