"""What is handed over: the program makes the recorded numbers again; words, items, long tables."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from archive.analysis.asked.kinds import Request
from archive.analysis.asked.running import run, told
from archive.analysis.handing.long import HEAD, long_csv
from archive.analysis.handing.methods import REFERENCES, methods
from archive.analysis.handing.script import cells, notebook, script
from archive.extending.columns import write_columns

type Field = tuple[str, str]

FLOWS = ["brisk"] * 4 + ["still"] * 4
TANKS = list("abcdefgh")
DRAWN = {
    "method": "complete randomisation",
    "places": [[tank, flow, "", []] for tank, flow in zip(TANKS, FLOWS, strict=True)],
    "commitment": "",
}
SCANS = [
    (f"2026-01-0{1 + n // 12}T{9 + n % 12 // 4:02}:00:00", "XYZ"[n % 3], session, did)
    for n, (session, did) in enumerate(
        zip(["s1", "s2"] * 18, ["rest", "swim", "oos", "rest", "walk"] * 7 + ["swim"], strict=True)
    )
]
CASES: dict[str, tuple[list[Field], list[tuple[Any, ...]], dict[str, str], dict[str, Any]]] = {
    "comparison": (
        [("tank", "string"), ("flow", "string"), ("mass", "number")],
        [(t, f, m) for t, f, m in zip(TANKS, FLOWS, [5.1, 6, 7, 8, 3, 4, 4.5, 5], strict=True)]
        + [("a", "brisk", 5.3), ("h", "still", "NA")],
        {"outcome": "mass", "unit": "tank", "treatment": "flow"},
        {"reference": "still", "test": "welch_t"},
    ),
    "growth": (
        [("tank", "string"), ("flow", "string"), ("day", "date"), ("mass", "number")],
        [
            (t, f, day, 10 + n + (12 + 2 * n) * (day > "2026-01-15"))
            for day in ("2026-01-01", "2026-02-05")
            for n, (t, f) in enumerate(zip(TANKS, FLOWS, strict=True))
        ],
        {"mass": "mass", "time": "day", "unit": "tank", "treatment": "flow"},
        {},
    ),
    "hatching": (
        [("tank", "string"), ("flow", "string"), ("fertile", "integer"), ("hatched", "integer")],
        [
            (t, f, 25, h)
            for t, f, h in zip(TANKS, FLOWS, [20, 18, 22, 19, 12, 15, 10, 14], strict=True)
        ],
        {"fertile": "fertile", "hatched": "hatched", "unit": "tank", "treatment": "flow"},
        {"reference": "still"},
    ),
    "survival": (
        [("tank", "string"), ("flow", "string"), ("days", "number"), ("hatched", "boolean")],
        [
            (t, f, d + extra, "true" if d != 60 else "false")
            for extra in (0, 2)
            for t, f, d in zip(TANKS, FLOWS, [50, 52, 51, 55, 58, 57, 60, 60], strict=True)
        ],
        {"time": "days", "happened": "hatched", "unit": "tank", "treatment": "flow"},
        {},
    ),
    "budget": (
        [("at", "datetime"), ("ray", "string"), ("session", "string"), ("did", "string")],
        SCANS,
        {"animal": "ray", "behaviour": "did", "session": "session", "time": "at"},
        {},
    ),
    "space": (
        [("ray", "string"), ("zone", "string")],
        [("X", "a")] * 6 + [("X", "b")] * 3 + [("Y", "b")] * 4 + [("Y", "c")],
        {"animal": "ray", "zone": "zone"},
        {"areas": {"a": 2.0, "b": 1.0, "c": 1.0}},
    ),
    "agreement": (
        [("at", "integer"), ("who", "string"), ("did", "string")],
        [(n, who, code) for who, codes in (("A", "aabbab"), ("B", "abbbab"))
         for n, code in enumerate(codes)],
        {"moment": "at", "observer": "who", "behaviour": "did"},
        {},
    ),
    "cohorts": (
        [("tank", "string"), ("flow", "string"), ("mass", "number")],
        [(t, f, m) for t, f, m in zip(TANKS, FLOWS, [5, 6, 7, 8, 3, 4, 4, 5], strict=True)],
        {"outcome": "mass", "unit": "tank", "treatment": "flow"},
        {"reference": "still"},
    ),
}  # fmt: skip
COUNTED = (
    [("shoal", "string"), ("sand", "integer"), ("bare", "integer")],
    [("A", 7, 5), ("B", 9, 3), ("A", 8, 4), ("C", 6, "NA")],
    {"animal": "shoal"},
    {"counts": ["sand", "bare"]},
)
"""Zones that stand beside each other, a column of counts each."""
PAIRED = (
    [("pair", "string"), ("supply", "string"), ("pebbles", "number")],
    [
        (p, s, n + 4 * (s == "plenty") + 0.1 * n * n * (s == "few"))
        for n, p in enumerate("abcd")
        for s in ("few", "plenty", "none")
    ],
    {"outcome": "pebbles", "unit": "pair", "treatment": "supply"},
    {"reference": "few", "arm": "plenty"},
)
"""Units that went through all arms, of which two are compared."""
CASES |= {"space, counted": COUNTED, "cohorts, paired": PAIRED}
MORE = {"brisk", "plenty"}
"""Arms in which later cohorts differ more."""
MADE_AGAIN = {"comparison": 20, "growth": 20, "hatching": 30, "survival": 10, "budget": 12,
              "space": 10, "agreement": 3, "cohorts": 6,
              "space, counted": 6, "cohorts, paired": 6}  # fmt: skip
"""Numbers that the program of each kind makes again, at the least."""


def laid(folder: Path, fields: list[Field], rows: list[tuple[Any, ...]]) -> tuple[Path, str]:
    """Lay a published package; give its typed copy, and the address of its descriptor."""
    folder.mkdir()
    text = io.StringIO()
    csv.writer(text).writerows([[name for name, _ in fields], *rows])
    (folder / "t.csv").write_text(text.getvalue(), encoding="utf-8")
    schema = {
        "fields": [{"name": name, "type": kind} for name, kind in fields],
        "missingValues": ["", "NA"],
    }
    resource = {"name": "t", "type": "table", "path": "t.csv", "schema": schema}
    package = folder / "datapackage.json"
    package.write_text(json.dumps({"resources": [resource]}), encoding="utf-8")
    write_columns(folder / "t.csv", folder / "t.parquet", resource)
    return folder / "t.parquet", package.as_uri()


@pytest.mark.parametrize("case", CASES)
def test_the_program_makes_the_recorded_numbers_again(
    case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fields, rows, columns, options = CASES[case]
    kind = case.partition(",")[0]
    cohorts = ["2024", "2025", "2026"] if kind == "cohorts" else ["2026"]
    paths, addresses = {}, {}
    for n, name in enumerate(cohorts):
        varied = [(*row[:-1], row[-1] + n) if kind == "cohorts" and row[1] in MORE else row
                  for row in rows]  # fmt: skip
        paths[name], addresses[name] = laid(tmp_path / name, fields, varied)
    request = Request(kind, "t", columns, options)
    facts = {"drawn": DRAWN} if kind in {"hatching", "growth"} else {}
    result = told(run(request, paths, facts))["found"]
    text = script("A “title”\n", addresses, request.as_dict(), result, facts)
    exec(compile(text, "handed.py", "exec"), {"__name__": "handed"})
    said = capsys.readouterr().out
    assert "0 are not" in said
    assert int(said.split()[0]) >= MADE_AGAIN[case], said
    # Held against other numbers it says so, and which.
    result["tables"][0]["rows"][0] = [
        one + 1 if isinstance(one, float) else one for one in result["tables"][0]["rows"][0]
    ]
    wrong = script("T", addresses, request.as_dict(), result, facts)
    with pytest.raises(SystemExit):
        exec(compile(wrong, "handed.py", "exec"), {"__name__": "handed"})


def test_the_notebook_holds_the_same_parts_and_the_words() -> None:
    result = {"tables": [], "tests": []}
    asked = Request("space", "t", {"animal": "a", "zone": "z"}).as_dict()
    parts = cells("T", {"2026": "http://here/datapackage.json"}, asked, result, {})
    book = json.loads(notebook(parts, "T", "By zones."))
    assert (book["nbformat"], len(book["cells"])) == (4, 5)
    code = ["".join(cell["source"]) for cell in book["cells"] if cell["cell_type"] == "code"]
    assert code == list(parts)
    assert all(cell["id"] for cell in book["cells"])


def test_a_long_table_has_one_number_a_row_and_no_formula() -> None:
    table = {"name": "t", "heads": ["unit", "arm", "mean"], "rows": [["=T1", "x", 2.5]]}
    test = {"name": "unit_t", "compared": "x less y", "effect": 1.5, "low": None, "high": None,
            "figures": [["t", 2.0]], "p": 0.1, "smallest_p": None}  # fmt: skip
    rows = list(csv.reader(io.StringIO(long_csv({"tables": [table], "tests": [test]}))))
    assert rows[0] == list(HEAD)
    assert rows[1] == ["table", "t", "'=T1", "x", "mean", "2.5"]
    assert [row[4] for row in rows[2:]] == ["effect", "t", "p"]


def test_the_paragraph_names_test_draw_standing_data_and_reporting_items() -> None:
    request = {"table": "t", "columns": {"unit": "tank", "hatched": "hatched"}, "seed": 3}
    test = {"name": "logit_t", "title": "t test of logits", "place": "chosen"}
    gap = {"what": "2 rows are left out.", "why": "They have no tank."}
    found = methods(
        "hatching", request, {"tests": [test], "gaps": [gap]}, {"drawn": DRAWN},
        is_planned=True, code="c0de", digest="d" * 64, data=["Someone (2026). Eggs."],
    )  # fmt: skip
    for said in ("t test of logits", "complete randomisation", "named in the plan", "seed 3",
                 "Someone (2026). Eggs"):  # fmt: skip
        assert said in found.text
    assert REFERENCES["haldane"] in found.references
    items = dict(found.items)
    assert items["1 Study design"] == "Experimental unit: “tank”."
    assert "no tank" in items["3 Inclusion and exclusion"]
    assert set(items) >= {"4 Randomisation", "6 Outcome measures", "7 Statistical methods"}
