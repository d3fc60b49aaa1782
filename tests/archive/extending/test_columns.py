"""Typed copies of tables: each column of its dictionary's type, or as it was written."""

from datetime import date, datetime

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from archive.extending.columns import write_columns
from registry.errors import Unsound


@pytest.mark.parametrize(
    ("field", "cells", "kind", "values"),
    [
        ({"type": "integer"}, ["7", "007", "-3"], pa.int64(), [7, 7, -3]),
        ({"type": "integer"}, [" 4", "+6", "1_000"], pa.int64(), [4, 6, 1000]),
        ({"type": "integer"}, ["9007199254740993", "1", ""], pa.int64(),
         [9007199254740993, 1, None]),
        ({"type": "integer"}, ["9223372036854775808", "1", ""], pa.string(),
         ["9223372036854775808", "1", None]),
        ({"type": "number"}, ["0.1", "-2.50", "1e2"], pa.float64(), [0.1, -2.5, 100.0]),
        ({"type": "number"}, ["9007199254740993", "1", ""], pa.string(),
         ["9007199254740993", "1", None]),
        ({"type": "number"}, ["0.12345678901234567890", "1", ""], pa.string(),
         ["0.12345678901234567890", "1", None]),
        ({"type": "number"}, ["NaN", "1", ""], pa.string(), ["NaN", "1", None]),
        ({"type": "number", "decimalChar": ",", "groupChar": "."}, ["1.234,5", "2", ""],
         pa.float64(), [1234.5, 2.0, None]),
        ({"type": "number", "bareNumber": False}, ["12%", "1", ""], pa.string(),
         ["12%", "1", None]),
        ({"type": "string"}, ["NA", "007", "null"], pa.string(), ["NA", "007", "null"]),
        ({"type": "any"}, ["1", "nan", ""], pa.string(), ["1", "nan", None]),
        ({"type": "boolean"}, ["true", "0", ""], pa.bool_(), [True, False, None]),
        ({"type": "boolean", "trueValues": ["y"], "falseValues": ["n"]}, ["y", "n", ""],
         pa.bool_(), [True, False, None]),
        ({"type": "date"}, ["2026-03-01", "0001-01-01", ""], pa.date32(),
         [date(2026, 3, 1), date(1, 1, 1), None]),
        ({"type": "date", "format": "%d/%m/%Y"}, ["01/03/2026", "", ""], pa.string(),
         ["01/03/2026", None, None]),
        ({"type": "datetime"}, ["2026-03-01T04:05:06", "", ""], pa.timestamp("ms"),
         [datetime(2026, 3, 1, 4, 5, 6), None, None]),  # noqa: DTZ001 - the data say no zone
        ({"type": "datetime"}, ["2026-03-01T04:05:06Z", "", ""], pa.string(),
         ["2026-03-01T04:05:06Z", None, None]),
        ({"type": "integer", "missingValues": ["-9"]}, ["-9", "1", "2"], pa.int64(), [None, 1, 2]),
    ],
)  # fmt: skip
def test_a_column_has_its_type_where_that_holds_all_that_is_written(
    tmp_path, field, cells, kind, values
):
    lines = "".join(f'x,"{cell}"\n' for cell in cells)
    (tmp_path / "t.csv").write_text(f"k,v\n{lines}", encoding="utf-8")
    schema = {"fields": [{"name": "k", "type": "string"}, {"name": "v", "x:unit": "g"} | field]}
    resource = {"name": "t", "path": "t.csv", "schema": schema}
    assert write_columns(tmp_path / "t.csv", tmp_path / "t.parquet", resource) == 3
    table = pq.read_table(tmp_path / "t.parquet")
    assert table.schema.field("v").type == kind
    assert table["v"].to_pylist() == values
    assert table.schema.field("v").metadata[b"x:unit"] == b"g"
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".part"] == []


def test_a_later_cell_that_needs_text_makes_the_whole_column_text(tmp_path, monkeypatch):
    monkeypatch.setattr("archive.extending.columns.ROWS", 2)
    (tmp_path / "t.csv").write_text("v\n1\n2\n3\n99999999999999999999\n", encoding="utf-8")
    resource = {
        "name": "t",
        "path": "t.csv",
        "schema": {"fields": [{"name": "v", "type": "integer"}]},
    }
    assert write_columns(tmp_path / "t.csv", tmp_path / "t.parquet", resource) == 4
    values = pq.read_table(tmp_path / "t.parquet")["v"].to_pylist()
    assert values == ["1", "2", "3", "99999999999999999999"]


def test_a_table_laid_out_in_its_own_way_is_read_so_and_one_without_a_header_has_no_copy(tmp_path):
    (tmp_path / "t.csv").write_text("\ufeffa;b\n'x;y';1\n", encoding="utf-8")
    resource = {
        "name": "t",
        "path": "t.csv",
        "dialect": {"delimiter": ";", "quoteChar": "'"},
        "schema": {"fields": [{"name": "a", "type": "string"}, {"name": "b", "type": "integer"}]},
    }
    write_columns(tmp_path / "t.csv", tmp_path / "t.parquet", resource)
    assert pq.read_table(tmp_path / "t.parquet").to_pydict() == {"a": ["x;y"], "b": [1]}
    with pytest.raises(Unsound, match="header is not its first row"):
        write_columns(
            tmp_path / "t.csv", tmp_path / "u.parquet", resource | {"dialect": {"header": False}}
        )
    assert not (tmp_path / "u.parquet").exists()


def test_a_table_without_rows_has_a_copy_without_rows(tmp_path):
    (tmp_path / "t.csv").write_text("v\n", encoding="utf-8")
    resource = {
        "name": "t",
        "path": "t.csv",
        "schema": {"fields": [{"name": "v", "type": "integer"}]},
    }
    assert write_columns(tmp_path / "t.csv", tmp_path / "t.parquet", resource) == 0
    assert pq.read_table(tmp_path / "t.parquet").schema.field("v").type == pa.int64()


def test_a_required_column_says_that_no_cell_is_empty(tmp_path):
    (tmp_path / "t.csv").write_text("k,v\nx,1\n", encoding="utf-8")
    fields = [{"name": "k", "constraints": {"required": True}}, {"name": "v", "type": "integer"}]
    resource = {"name": "t", "path": "t.csv", "schema": {"fields": fields}}
    write_columns(tmp_path / "t.csv", tmp_path / "t.parquet", resource)
    assert [one.nullable for one in pq.read_schema(tmp_path / "t.parquet")] == [False, True]
