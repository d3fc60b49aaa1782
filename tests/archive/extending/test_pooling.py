"""Cohorts as one table: nothing lost, each row with its source, and pandas as a second reader."""

import csv
import random
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from archive.extending.carrying import Cohort
from archive.extending.columns import write_columns
from archive.extending.counting import counted, time_budget
from archive.extending.pooling import Pool
from archive.extending.rules import Recode
from registry.errors import Unsound

OLD = {
    "fields": [
        {"name": "ray", "type": "string", "x:fieldId": "f1"},
        {"name": "seen", "type": "string", "x:fieldId": "f2"},
        {"name": "mass", "type": "integer", "x:fieldId": "f3", "x:unit": "g"},
        {"name": "tag", "type": "integer", "x:fieldId": "f4"},
        {"name": "note", "type": "string", "x:fieldId": "f5", "missingValues": [""]},
    ],
    "missingValues": ["", "-9"],
}
NEW = {
    "fields": [
        {"name": "behaviour", "type": "string", "x:fieldId": "f2"},
        {"name": "animal", "type": "string", "x:fieldId": "f1"},
        {"name": "mass_kg", "type": "number", "x:fieldId": "f3", "x:unit": "kg"},
        {"name": "tag", "type": "number", "x:fieldId": "f4"},
        {"name": "depth", "type": "number", "x:fieldId": "f6", "x:unit": "m"},
    ],
    "missingValues": ["", "-9"],
}
OLD_ROWS = [
    ["R1", "rest", "1500", "9007199254740993", "NA"],
    ["R2", "swim", "-9", "7", ""],
    ["", "rest", "12", "007", "null"],
]
NEW_ROWS = [["rest", "R1", "1.25", "8", "-2.5"], ["", "R1", "0.5", "", ""]]


def cohort(folder, number, schema, rows, rules=()):
    source = folder / f"{number}.csv"
    with source.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([[field["name"] for field in schema["fields"]], *rows])
    resource = {"name": "scans", "path": f"{number}.csv", "schema": schema}
    assert write_columns(source, folder / f"{number}.parquet", resource) == len(rows)
    return Cohort(f"ark:99999/{number}", folder / f"{number}.parquet", resource, tuple(rules))


@pytest.fixture
def pool(tmp_path):
    return Pool((cohort(tmp_path, "one", OLD, OLD_ROWS), cohort(tmp_path, "two", NEW, NEW_ROWS)))


def test_columns_meet_by_their_ids_and_every_value_is_as_it_was(pool):
    table = pa.Table.from_batches(pool.batches())
    assert table.schema.names == pool.schema.names
    assert table.column_names == [
        "behaviour", "animal", "mass_kg", "tag", "depth", "note",
        "_source", "_source_row", "_not_collected",
    ]  # fmt: skip
    assert table["animal"].to_pylist() == ["R1", "R2", None, "R1", "R1"]
    assert table["mass_kg"].to_pylist() == [1.5, None, 0.012, 1.25, 0.5]
    # Whole numbers that no floating number holds stay themselves, to the digit.
    assert table["tag"].to_pylist() == ["9007199254740993", "7", "7", "8", None]
    # A text that some programs take for an empty cell is a text.
    assert table["note"].to_pylist() == ["NA", None, "null", None, None]
    assert table["_source"].to_pylist() == ["ark:99999/one"] * 3 + ["ark:99999/two"] * 2
    assert table["_source_row"].to_pylist() == [2, 3, 4, 2, 3]
    # What was not collected in a cohort is not what is missing in its data.
    assert table["_not_collected"].to_pylist() == ["depth"] * 3 + ["note"] * 2
    depth = next(field for field in pool.fields if field.name == "depth")
    assert (depth.field_id, depth.unit, depth.collected) == ("f6", "m", {"ark:99999/two"})


def test_columns_that_are_not_asked_for_are_not_read(pool, monkeypatch):
    asked = []
    whole = pq.ParquetFile.iter_batches
    monkeypatch.setattr(
        pq.ParquetFile,
        "iter_batches",
        lambda self, rows, columns: asked.append(columns) or whole(self, rows, columns=columns),
    )
    table = pa.Table.from_batches(pool.batches(["animal", "depth", "_source_row"]))
    assert table.column_names == ["animal", "depth", "_source_row"]
    assert asked[1] == ["animal", "depth"]
    rows = pa.Table.from_batches(pool.batches(["_source"]))
    assert rows.num_rows == 5
    with pytest.raises(Unsound, match="no column “breath”"):
        next(pool.batches(["breath"]))


def test_a_pool_is_written_and_read_back_by_another_reader(pool, tmp_path):
    assert pool.write(tmp_path / "pool.parquet") == 5
    frame = pd.read_parquet(tmp_path / "pool.parquet")
    assert frame["tag"].tolist()[0] == "9007199254740993"
    assert frame["_source_row"].tolist() == [2, 3, 4, 2, 3]


def test_whole_numbers_become_floating_only_where_none_loses_a_digit(tmp_path):
    rows = [[*row[:3], "12", *row[4:]] for row in OLD_ROWS]
    pool = Pool((cohort(tmp_path, "one", OLD, rows), cohort(tmp_path, "two", NEW, NEW_ROWS)))
    assert pool.schema.field("tag").type == pa.float64()
    assert pa.Table.from_batches(pool.batches(["tag"]))["tag"].to_pylist()[:1] == [12.0]


def test_what_has_no_rule_is_not_pooled_and_with_one_it_is(tmp_path):
    def coded(codes):
        field = {"name": "seen", "type": "string", "x:fieldId": "f2", "categories": codes}
        return {"fields": [field]}

    newest = cohort(tmp_path, "two", coded(["rest"]), [["rest"]])
    bare = cohort(tmp_path, "one", coded(["R", "rest"]), [["R"], ["rest"]])
    with pytest.raises(Unsound, match="The list no longer has R"):
        _ = Pool((bare, newest)).fields
    rule = Recode("seen", (("R", "rest"), ("rest", "rest")))
    ruled = Cohort(bare.identifier, bare.path, bare.resource, (rule,))
    table = pa.Table.from_batches(Pool((ruled, newest)).batches(["seen"]))
    assert table["seen"].to_pylist() == ["rest"] * 3


def test_units_that_measure_different_things_are_not_pooled(tmp_path):
    def with_unit(unit):
        return {"fields": [{"name": "n", "type": "number", "x:fieldId": "f1", "x:unit": unit}]}

    pool = Pool(
        (
            cohort(tmp_path, "one", with_unit("g"), [["1"]]),
            cohort(tmp_path, "two", with_unit("m"), [["1"]]),
        )
    )
    with pytest.raises(Unsound, match="measure different things"):
        _ = pool.fields


def test_no_cohort_and_one_cohort_twice_are_refused(tmp_path):
    one = cohort(tmp_path, "one", OLD, OLD_ROWS)
    for cohorts, said in (((), "There is none"), ((one, one), "One version stands twice")):
        with pytest.raises(Unsound, match=said):
            _ = Pool(cohorts).fields


@pytest.mark.parametrize("most", [1 << 22, 1])
def test_shares_are_those_that_pandas_works_out(tmp_path, monkeypatch, most):
    monkeypatch.setattr("archive.extending.counting.MOST_CELLS", most)
    monkeypatch.setattr("archive.extending.carrying.BATCH_ROWS", 64)
    draw = random.Random(20260301)
    old = [
        [draw.choice(["R1", "R2", "R3", ""]), draw.choice(["rest", "swim", "dig"]), "5", "1", ""]
        for _ in range(300)
    ]
    new = [
        [draw.choice(["rest", "feed", ""]), draw.choice(["R1", "R4"]), "1.5", "", ""]
        for _ in range(200)
    ]
    pool = Pool((cohort(tmp_path, "one", OLD, old), cohort(tmp_path, "two", NEW, new)))
    assert sum(counted(pool, ["_source", "mass_kg"])["count"].to_pylist()) == 500
    found = time_budget(pool, "animal", "behaviour").to_pandas()
    frame = pd.concat(
        [
            _read(tmp_path / "one.csv", {"ray": "animal", "seen": "behaviour"}, "ark:99999/one"),
            _read(tmp_path / "two.csv", {}, "ark:99999/two"),
        ]
    )
    frame = frame[(frame.animal != "") & (frame.behaviour != "")]
    expected = frame.groupby(["_source", "animal"])["behaviour"].value_counts(normalize=True)
    assert len(found) == len(expected)
    for row in found.itertuples():
        where = (row[1], row.animal, row.behaviour)
        assert row.share == pytest.approx(expected[where])


def _read(path: Path, called, source):
    frame = pd.read_csv(path, dtype=str, keep_default_na=False).rename(columns=called)
    return frame.assign(_source=source)
