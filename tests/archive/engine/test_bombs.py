"""Files made to take a server down: each is told in words, in bounded memory and time."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from archive.engine import way
from archive.engine.findings import Verdict
from archive.engine.limits import Limits
from archive.engine.watch import check_in_child

BUDGET_S = 120
"""By the clock, on a machine that does other things too; most take two."""

TIGHT = Limits(memory_bytes=5 * 1024**3 // 4, wall_s=BUDGET_S, cpu_s=BUDGET_S)
"""Addresses for little more than the compiler and the libraries: nothing may grow with the file."""

SCHEMA: dict[str, Any] = {"fields": [{"name": "id", "type": "string"}]}


def described(folder: Path, schema: dict[str, Any] = SCHEMA) -> None:
    shape = {"resources": [{"name": "eggs", "path": "eggs.csv", "schema": schema}]}
    (folder / "datapackage.json").write_text(json.dumps(shape), encoding="utf-8")


def written(head: bytes, block: bytes, times: int) -> Callable[[Path], None]:
    """Give a deed that writes a file of many blocks, none of which is held twice."""

    def write(path: Path) -> None:
        with path.open("wb") as out:
            out.write(head)
            for _ in range(times):
                out.write(block)

    return write


def sparse(path: Path) -> None:
    """Make a file of 500 MB that takes no room on the disk."""
    with path.open("wb") as out:
        out.write(b"id\n1")
        out.truncate(500_000_000)


MEGABYTE = 1 << 20
BOMBS: dict[str, tuple[Callable[[Path], None], str]] = {
    "a header of a million columns": (
        written(b"id", b"".join(b",c%d" % number for number in range(1_000_000)), 1),
        "table-too-large",
    ),
    "a row of a million cells": (written(b"id\n1\n", b"," * MEGABYTE, 1), "table-too-large"),
    "a cell that never ends": (written(b"id\n", b"a" * MEGABYTE, 150), "cell-too-large"),
    "a header that never ends": (written(b"", b"a" * MEGABYTE, 100), "cell-too-large"),
    "a cell of nothing that never ends": (sparse, "nul-character"),
    "a quotation mark that never closes": (
        written(b'id\n"', b"a\n" * (MEGABYTE // 2), 200),
        "cell-too-large",
    ),
    "quotation marks without end": (written(b"id\n", b'"' * MEGABYTE, 100), "cell-too-large"),
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_file_that_would_fill_the_memory_is_refused_in_words(name, tmp_path):
    write, code = BOMBS[name]
    described(tmp_path)
    write(tmp_path / "eggs.csv")
    began = time.monotonic()
    report = check_in_child(tmp_path, limits=TIGHT)
    assert [finding.code for finding in report.findings] == [code]
    assert report.verdict is not Verdict.VALID
    assert report.reason == ""
    assert time.monotonic() - began < BUDGET_S


@pytest.mark.parametrize("mark", ["[", '{"a":'])
def test_a_descriptor_nested_without_end_is_refused_in_words(mark, tmp_path):
    (tmp_path / "eggs.csv").write_text("id\n1\n", encoding="utf-8")
    nested = '{"resources": ' + mark * (900_000 // len(mark))
    (tmp_path / "datapackage.json").write_text(nested, encoding="utf-8")
    report = check_in_child(tmp_path, limits=TIGHT)
    assert [finding.code for finding in report.findings] == ["descriptor-unreadable"]
    assert "nested too deeply" in report.reason


def test_a_hostile_pattern_stops_its_own_table_also_where_the_kernel_reads(monkeypatch, tmp_path):
    monkeypatch.setenv(way.SWITCH, "fast")
    limits = {"pattern": "(a+)+b"}
    described(tmp_path, {"fields": [{"name": "id", "type": "string", "constraints": limits}]})
    rows = "aab\n" * 2_000 + "a" * 40 + "c\n"
    (tmp_path / "eggs.csv").write_text(f"id\n{rows}", encoding="utf-8")
    began = time.monotonic()
    report = check_in_child(tmp_path, limits=TIGHT)
    assert report.verdict is Verdict.NOT_CHECKED
    assert [(finding.code, finding.row) for finding in report.findings] == [("not-checked", 2_002)]
    assert time.monotonic() - began < BUDGET_S
