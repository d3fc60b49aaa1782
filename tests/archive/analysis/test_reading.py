"""Columns are read as the archive keeps them, whole or a piece at a time."""

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from archive.analysis import Scans, coded, read_coded, read_numbers, read_scans, time_budget
from archive.extending.columns import write_columns
from registry.errors import Unsound

ROWS = [(f"CE-{n % 4}", f"S{n % 3}", ["swim", " rest", "", "oos"][n % 5 % 4], n) for n in range(60)]
SCHEMA = {
    "fields": [
        {"name": "animal", "type": "string", "constraints": {"required": True}},
        {"name": "session", "type": "string"},
        {"name": "behaviour", "type": "string"},
        {"name": "depth_m", "type": "number"},
    ]
}


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """Keep the rows as the archive does, then in groups of seven rows."""
    lines = "".join(f"{a},{s},{b},{d if d % 2 else ''}\n" for a, s, b, d in ROWS)
    (tmp_path / "t.csv").write_text(f"animal,session,behaviour,depth_m\n{lines}", encoding="utf-8")
    resource = {"name": "t", "path": "t.csv", "schema": SCHEMA}
    assert write_columns(tmp_path / "t.csv", tmp_path / "t.parquet", resource) == 60
    table = pq.read_table(tmp_path / "t.parquet")
    pq.write_table(table, tmp_path / "t.parquet", row_group_size=7)
    return tmp_path / "t.parquet"


def test_a_budget_of_pieces_is_that_of_all_rows(kept: Path) -> None:
    columns = [coded(column) for column in list(zip(*ROWS, strict=True))[:3]]
    known = ["swim", "rest"]
    whole = time_budget(Scans(*columns, known=known))
    names = ("animal", "session", "behaviour")
    assert time_budget(read_scans(kept, *names, known=known)) == whole
    assert time_budget(Scans(*read_coded(kept, names), known=known)) == whole
    assert whole.of("rest").of_visible.mean > 0


def test_words_that_differ_in_spaces_alone_are_one(tmp_path: Path) -> None:
    table = pa.table({"zone": ["cave", " cave", "", None, "open"], "n": [1, 2, 3, 4, 5]})
    pq.write_table(table, tmp_path / "z.parquet")
    zone, number = read_coded(tmp_path / "z.parquet", ["zone", "n"])
    assert (zone.words, zone.codes.tolist()) == (("cave", "open"), [0, 0, -1, -1, 1])
    assert number.words == ("1", "2", "3", "4", "5")
    pq.write_table(table.slice(0, 0), tmp_path / "z.parquet")
    assert read_coded(tmp_path / "z.parquet", ["zone"])[0].words == ()


def test_numbers_are_read_with_gaps(kept: Path) -> None:
    (depth,) = read_numbers(kept, ["depth_m"])
    assert np.isnan(depth[0])
    assert depth[1] == 1.0


def test_what_is_not_there_is_refused_by_name(kept: Path) -> None:
    with pytest.raises(Unsound, match="no column zone"):
        read_coded(kept, ["zone"])
    with pytest.raises(Unsound, match="holds no numbers"):
        read_numbers(kept, ["session"])
    with pytest.raises(Unsound, match="no column dive"):
        next(read_scans(kept, "animal", "dive", "behaviour"))
