"""A table is looked at, digested and judged in one pass; what is not plainly sound, in two."""

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from archive.engine import reading, tables, way
from archive.engine.fast import stream
from archive.engine.findings import Verdict
from archive.engine.limits import Limits
from archive.engine.reports import Report
from archive.engine.run import check, check_table

SCHEMA = {
    "fields": [{"name": "id", "type": "integer"}, {"name": "note", "type": "string"}],
    "primaryKey": ["id"],
}
BLOCK = 8_192
HEAD = b"id,note\n" + b"".join(b'%d,"quiet, clear"\n' % one for one in range(1_000))
TAILS = {
    "nothing": b"",
    "a wrong cell": b"x,a\n7,a\n",
    "a line break in quotation marks": b'2000,"a\nb"\n2001,c\n',
    "rows that a cell has swallowed": b'2000,"a\n2001,b\n2002,c\n"\n',
    "a return in quotation marks": b'2000,"a\rb"\n',
    "text after a closing mark": b'2000,"a"b\n2001,c\nx,d\n',
    "a mark that stays open": b'2000,"a\n2001,b\n',
    "a NUL character": b"2000,a\0b\n",
    "a byte that is no text": b"2000,\xff\n",
    "a letter that is cut short": b"2000,\xc3",
    "more cells than may be": b"2000" + b",a" * 600 + b"\n",
    "a cell longer than may be": b"2000," + b"a" * 140_000 + b"\n",
    "a long row of short cells": b"2000" + (b"," + b"a" * 400) * 400 + b"\n",
}


@pytest.fixture
def looked(monkeypatch) -> list[str]:
    """Read by the kernel, in small blocks; give the names of tables that were looked at whole."""
    names: list[str] = []

    def look(path, name, *more):
        names.append(name)
        return reading.scan_table(path, name, *more)

    monkeypatch.setenv(way.SWITCH, "fast")
    monkeypatch.setattr(stream, "BLOCK_BYTES", BLOCK)
    monkeypatch.setattr(tables, "scan_table", look)
    return names


def slowly(monkeypatch, path: Path, **more) -> Report:
    monkeypatch.setenv(way.SWITCH, "slow")
    return check_table(path, SCHEMA, **more)


def test_a_sound_file_is_read_once_from_its_first_byte_to_its_last_and_digested_on_the_way(
    monkeypatch, looked, tmp_path
):
    path = tmp_path / "eggs.csv"
    path.write_bytes(HEAD)
    came: list[int] = []
    blocks = stream.Stream.blocks

    def counted(self):
        before = 0
        for block in blocks(self):
            came.append(self.fixity.bytes - before)
            before = self.fixity.bytes
            yield block

    monkeypatch.setattr(stream.Stream, "blocks", counted)
    report = check_table(path, SCHEMA)
    assert (report.verdict, looked) == (Verdict.VALID, [])
    # Its beginning alone is seen twice: before any other reader is sent over it.
    assert sum(came) == len(HEAD) + BLOCK
    (table,) = report.tables
    assert (table.bytes, table.sha256) == (len(HEAD), hashlib.sha256(HEAD).hexdigest())
    assert (table.rows, table.note) == (1_000, "")


@pytest.mark.parametrize("name", TAILS)
def test_whatever_stands_far_down_the_report_is_that_of_the_slow_way(
    monkeypatch, looked, tmp_path, name
):
    path = tmp_path / "eggs.csv"
    path.write_bytes(HEAD + TAILS[name])
    fast = check_table(path, SCHEMA)
    assert looked == ([] if name in {"nothing", "a wrong cell"} else ["table"])
    assert replace(fast, tables=()) == replace(slow := slowly(monkeypatch, path), tables=())
    assert replace(fast.tables[0], note="") == slow.tables[0]


def test_more_rows_than_may_be_are_told_in_the_same_words_both_ways(monkeypatch, looked, tmp_path):
    path = tmp_path / "eggs.csv"
    path.write_bytes(HEAD)
    most = Limits(table_rows=999)
    fast = check_table(path, SCHEMA, limits=most)
    assert [one.code for one in fast.findings] == ["table-too-large"]
    assert fast == slowly(monkeypatch, path, limits=most)
    assert check_table(path, SCHEMA, limits=Limits(table_rows=1_000)).verdict is Verdict.VALID


def test_a_table_in_which_another_looks_names_up_is_looked_at_before(looked, tmp_path):
    (tmp_path / "eggs.csv").write_bytes(HEAD)
    (tmp_path / "clutches.csv").write_bytes(HEAD + TAILS["a mark that stays open"])
    link = {"fields": ["id"], "reference": {"resource": "clutches", "fields": ["id"]}}
    report = check(
        tmp_path,
        descriptor={
            "resources": [
                {"name": "eggs", "path": "eggs.csv", "schema": SCHEMA | {"foreignKeys": [link]}},
                {"name": "clutches", "path": "clutches.csv", "schema": SCHEMA},
            ]
        },
    )
    assert looked == ["clutches"]
    told = [(one.code, one.table) for one in report.findings]
    assert told == [("unclosed-quote", "clutches"), ("not-checked", "eggs")]
    assert [one.rows for one in report.tables] == [1_000, 1_000]


def test_a_table_that_a_full_report_leaves_unjudged_is_digested_all_the_same(looked, tmp_path):
    (tmp_path / "eggs.csv").write_bytes(HEAD + TAILS["a wrong cell"])
    (tmp_path / "clutches.csv").write_bytes(HEAD)
    shape = [
        {"name": name, "path": f"{name}.csv", "schema": SCHEMA} for name in ("eggs", "clutches")
    ]
    report = check(tmp_path, descriptor={"resources": shape}, limit_findings=1)
    assert (report.is_limited, looked) == (True, ["clutches"])
    assert report.tables[1].sha256 == hashlib.sha256(HEAD).hexdigest()
