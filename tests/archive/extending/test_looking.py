"""A pool looked at, sifted, summed up and written; pandas, DuckDB and openpyxl read it again."""

import io
from pathlib import Path

import duckdb
import frictionless
import openpyxl
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from archive.extending.looking import MOST_GROUPS, NEVER, page_of_rows, summary
from archive.extending.pool_child import answer
from archive.extending.pooling import Pool
from archive.extending.rules import Rename
from archive.extending.sifting import Condition, How, sifted
from archive.extending.writing import FORMS, described, write
from registry.errors import TooLarge, Unsound
from tests.archive.extending.test_pooling import NEW, NEW_ROWS, OLD, OLD_ROWS, cohort

ROWS = [*OLD_ROWS, ["R3", "=1+1", "2", "3", '@ "x", y']]


@pytest.fixture
def pool(tmp_path: Path) -> Pool:
    return Pool((cohort(tmp_path, "one", OLD, ROWS), cohort(tmp_path, "two", NEW, NEW_ROWS)))


def test_a_page_tells_what_is_missing_from_what_was_never_collected(pool: Pool) -> None:
    rows, count = page_of_rows(pool, [], first=1, size=4)
    assert count == 6
    assert rows == [
        ["swim", "R2", None, "7", NEVER, None, "ark:99999/one", "3"],
        ["rest", None, "0.012", "7", NEVER, "null", "ark:99999/one", "4"],
        ["=1+1", "R3", "0.002", "3", NEVER, '@ "x", y', "ark:99999/one", "5"],
        ["rest", "R1", "1.25", "8", "-2.5", NEVER, "ark:99999/two", "2"],
    ]
    assert page_of_rows(pool, [], first=9, size=4) == ([], 6)


@pytest.mark.parametrize(
    ("column", "how", "value", "rows"),
    [
        ("behaviour", How.IS, "rest", [2, 4, 2]),
        ("behaviour", How.IS_NOT, "rest", [3, 5]),
        ("behaviour", How.HOLDS, "ES", [2, 4, 2]),
        ("mass_kg", How.LEAST, "0.5", [2, 2, 3]),
        ("mass_kg", How.MOST, "0.012", [4, 5]),
        ("mass_kg", How.MISSING, "", [3]),
        ("depth", How.MISSING, "", [3]),  # and not those of the cohort that had no depth
        ("depth", How.FILLED, "", [2]),
        ("_source", How.IS, "ark:99999/two", [2, 3]),
        ("_source_row", How.LEAST, "4", [4, 5]),
    ],
)
def test_rows_are_sifted_by_what_their_column_holds(
    pool: Pool, column: str, how: How, value: str, rows: list[int]
) -> None:
    kept = sifted(pool, ["_source_row"], [Condition(column, how, value)])
    assert [row for batch in kept for row in batch.column(0).to_pylist()] == rows


def test_conditions_are_met_together_and_a_wrong_one_is_refused(pool: Pool) -> None:
    both = [Condition("behaviour", How.IS, "rest"), Condition("_source", How.HOLDS, "two")]
    assert page_of_rows(pool, both, first=0, size=9)[1] == 1
    for condition in (
        Condition("depth", How.LEAST, "deep"),
        Condition("width", How.FILLED),
        Condition("_source_row", How.IS, "9" * 30),
    ):
        with pytest.raises(Unsound):
            list(sifted(pool, ["_source"], [condition]))


def test_what_is_summed_up_in_pieces_is_what_pandas_finds_in_the_whole(
    pool: Pool, monkeypatch: pytest.MonkeyPatch
) -> None:
    frame = pa.Table.from_batches(pool.batches()).to_pandas()
    theirs = frame.groupby("animal", dropna=False)["mass_kg"].agg(
        ["size", "count", "mean", "std", "min", "max"]
    )
    monkeypatch.setattr("archive.extending.carrying.BATCH_ROWS", 1)
    ours = {key: told for (key,), told in summary(pool, [], by=["animal"], of="mass_kg")}
    assert set(ours) == {"R1", "R2", "R3", None}
    for animal, row in theirs.iterrows():
        told = ours[None if pd.isna(animal) else animal]  # type: ignore[index]  # why: a text or nothing
        assert (told["count"], told["n"]) == (row["size"], row["count"])
        assert told.get("mean") == (pytest.approx(row["mean"]) if row["count"] else None)
        if row["count"] > 1:
            assert told["deviation"] == pytest.approx(row["std"])
            assert (told["least"], told["most"]) == (row["min"], row["max"])
    assert summary(pool, [], by=["_source"]) == [
        (["ark:99999/one"], {"count": 4, "n": 0}),
        (["ark:99999/two"], {"count": 2, "n": 0}),
    ]
    with pytest.raises(Unsound, match="does not hold numbers"):
        summary(pool, [], by=["animal"], of="behaviour")


def test_more_groups_than_a_page_holds_are_refused(tmp_path: Path) -> None:
    rows = [[f"R{at}", "rest", "1", "1", ""] for at in range(MOST_GROUPS + 1)]
    with pytest.raises(TooLarge, match=str(MOST_GROUPS)):
        summary(Pool((cohort(tmp_path, "one", OLD, rows),)), [], by=["ray"])


def test_each_form_holds_the_same_rows_and_only_spreadsheets_are_made_safe(
    pool: Pool, tmp_path: Path
) -> None:
    whole = pa.Table.from_batches(pool.batches())
    made = {form: tmp_path / f"pooled-{form}" for form in FORMS}
    for form, path in made.items():
        assert write(pool, [], path, form) == 6
    assert pq.read_table(made["parquet"]).to_pylist() == whole.to_pylist()
    plain = pd.read_csv(made["csv"], dtype=str, keep_default_na=False)
    assert plain["tag"].iloc[0] == "9007199254740993"
    assert plain["note"].iloc[0] == "NA"
    assert list(plain["behaviour"]) == ["rest", "swim", "rest", "=1+1", "rest", ""]
    found = duckdb.sql(f"select sum(mass_kg) from read_csv('{made['csv']}')").fetchall()
    assert found == [(pytest.approx(1.5 + 0.012 + 0.002 + 1.25 + 0.5),)]
    safe = pd.read_csv(made["spreadsheet"], dtype=str, keep_default_na=False)
    assert list(safe["behaviour"])[3] == "'=1+1"
    sheet = openpyxl.load_workbook(io.BytesIO(made["xlsx"].read_bytes())).active
    assert sheet is not None
    cells = list(sheet.iter_rows(values_only=True))
    assert cells[0] == tuple(whole.column_names)
    assert cells[4][:3] == ("'=1+1", "R3", 0.002)
    assert not any(cell.data_type == "f" for row in sheet.iter_rows() for cell in row)
    one = [Condition("_source", How.HOLDS, "two")]
    assert write(pool, one, tmp_path / "some.csv", "csv") == 2


def test_the_table_that_is_written_is_valid_by_its_own_description(
    pool: Pool, tmp_path: Path
) -> None:
    resource = described(pool, name="pooled", title="Pooled", description="Two cohorts.")
    write(pool, [], tmp_path / "pooled.csv", "csv")
    # A second reader, with its own reading of every type: frictionless.
    table = frictionless.Resource.from_descriptor(resource, basepath=str(tmp_path))
    report = table.validate()
    assert report.valid, report.flatten(["message"])
    assert report.tasks[0].stats["rows"] == 6
    units = {field["name"]: field.get("x:unit") for field in resource["schema"]["fields"]}
    assert (units["mass_kg"], units["depth"]) == ("kg", "m")


def test_columns_of_another_study_meet_where_a_rule_says_that_they_are_the_same(
    tmp_path: Path,
) -> None:
    theirs = {"fields": [field | {"x:fieldId": f"g{at}"} for at, field in enumerate(NEW["fields"])]}
    apart = Pool((cohort(tmp_path, "one", theirs, NEW_ROWS), cohort(tmp_path, "two", NEW, [])))
    assert "animal__g1" in apart.schema.names
    rules = [Rename("animal", "animal"), Rename("mass_kg", "mass_kg")]
    one = cohort(tmp_path, "three", theirs, NEW_ROWS, rules)
    met = Pool((one, cohort(tmp_path, "two", NEW, [])))
    assert "animal__g1" not in met.schema.names
    table = pa.Table.from_batches(met.batches(["animal", "mass_kg"]))
    assert table["animal"].to_pylist() == ["R1", "R1"]


def test_the_child_answers_what_it_is_asked(pool: Pool) -> None:
    told = answer(
        {
            "cohorts": [
                {"identifier": one.identifier, "path": str(one.path), "resource": one.resource,
                 "rules": []}
                for one in pool.cohorts
            ],
            "conditions": [{"column": "animal", "how": "is", "value": "R1"}],
            "look": {"first": 0, "size": 2},
            "summary": {"by": ["behaviour"]},
        }
    )  # fmt: skip
    assert told["count"] == 3
    assert [one["name"] for one in told["columns"]][2] == "mass_kg"
    # Of R1: one record of rest in each cohort, and one without a behaviour.
    assert told["groups"] == [(["rest"], {"count": 2, "n": 0}), ([None], {"count": 1, "n": 0})]
