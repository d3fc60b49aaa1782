"""Rules tried on whole tables: what is counted is what pandas counts, and what a pool refuses."""

from pathlib import Path
from typing import Any

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from archive.extending.applying import applied
from archive.extending.carrying import Cohort
from archive.extending.covering import blanked, uncovered
from archive.extending.rules import Convert, Derive, Recode, Rename, Rule, Split
from archive.extending.trying import tried
from registry.errors import Unsound

TABLE = {
    "depth": ["1.5", "deep", None, "2"],
    "posture": ["R", "Q", "S", None],
    "wet": [1.0, 0.0, 3.0, None],
    "beats": [2, 3, 4, 5],
    "place": ["T1-left", "T2", None, "T3-right"],
}


def field(name: str, kind: str = "string", **more: Any) -> dict[str, Any]:
    return {"name": name, "type": kind, **more}


OLD = {
    "name": "scans",
    "schema": {
        "fields": [
            field("depth"),
            field("posture", categories=["R", "S"]),
            field("wet", "number"),
            field("beats", "integer"),
            field("place"),
        ]
    },
}
NEW = {
    "name": "scans",
    "schema": {
        "fields": [
            field("depth"),
            field("posture", categories=["rest"]),
            field("wet", "number"),
            field(
                "beats", "integer", constraints={"maximum": 4}, **{"x:plausible": {"minimum": 3}}
            ),
            field("place"),
            field("rate", "number"),
            field("remark"),
        ]
    },
}
ODD: list[tuple[Rule, list[bool]]] = [
    (Convert("depth", "m", "cm"), [False, True, False, False]),
    (Recode("posture", (("R", "rest"), ("S", "swim"))), [False, True, False, False]),
    (Split("place", ("tank", "side"), "-"), [False, True, False, False]),
    (Derive("rate", "beats / wet"), [False, True, False, False]),
    (Derive("rate", "beats * depth"), [False, True, False, False]),
    (Rename("place", "spot"), [False] * 4),
    (Convert("wet", "g", "kg"), [False] * 4),
]


@pytest.mark.parametrize(("rule", "odd"), ODD, ids=lambda one: getattr(one, "said", ""))
def test_a_rule_refuses_just_the_rows_that_it_does_not_cover(rule: Rule, odd: list[bool]) -> None:
    table = pa.table(TABLE)
    assert uncovered(rule, table).to_pylist() == odd
    for at, is_odd in enumerate(odd):
        if is_odd:
            with pytest.raises(Unsound):
                applied([rule], table.slice(at, 1))
        else:
            assert applied([rule], table.slice(at, 1)).num_rows == 1
    left = blanked(table, [name for name in TABLE if any(odd)], pa.chunked_array([odd]))
    assert applied([rule], left).num_rows == len(odd)


def test_a_trial_counts_all_that_is_in_the_way_and_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "scans.parquet"
    pq.write_table(pa.table(TABLE), path)
    rules = (ODD[0][0], ODD[1][0], ODD[3][0])
    told = tried(Cohort("ark:1", path, OLD, rules), NEW, rows=2, columns=20)
    frame = pd.DataFrame(TABLE)
    depth = pd.to_numeric(frame["depth"], errors="coerce")
    unread = int((depth.isna() & frame["depth"].notna()).sum())
    counts = [(one["values"], one["empty"], one["unread"]) for one in told["steps"]]
    assert counts[0] == (depth.notna().sum(), frame["depth"].isna().sum(), unread)
    assert counts[1:] == [(2, 1, 1), (2, 1, 1)]
    assert [one["examples"] for one in told["steps"]] == [["deep"], ["Q"], ["3 and 0"]]
    assert told["before"]["rows"][1] == ["deep", "Q", "0", "3", "T2"]
    # What a rule cannot read is empty where it writes, and nowhere else.
    # The columns that the rules write come first: on a phone no others are in sight.
    assert told["after"]["rows"] == [
        ["150", "rest", "2", "1", "2", "T1-left"],
        [None, None, None, "0", "3", "T2"],
    ]
    beyond = {
        (one["column"], one["what"]): (one["count"], one["examples"]) for one in told["beyond"]
    }
    assert beyond == {
        ("posture", "unlisted"): (1, ["swim"]),
        ("beats", "outside"): (int((frame["beats"] > 4).sum()), ["5"]),
        ("beats", "unlikely"): (int((frame["beats"] < 3).sum()), ["2"]),
    }
    assert told["lacking"] == ["remark"]
    with pytest.raises(Unsound, match="It has no column “mass”"):
        tried(
            Cohort("ark:1", path, OLD, (*rules, Convert("mass", "g", "kg"))), NEW, rows=2, columns=9
        )


def test_a_table_without_rows_is_tried_too(tmp_path: Path) -> None:
    path = tmp_path / "scans.parquet"
    pq.write_table(pa.table(TABLE).slice(0, 0), path)
    told = tried(Cohort("ark:1", path, OLD, (ODD[1][0],)), NEW, rows=2, columns=3)
    assert (told["count"], told["after"]["rows"]) == (0, [])
    assert len(told["after"]["columns"]) == 3
