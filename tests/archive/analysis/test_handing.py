"""What is handed over: the program makes the recorded numbers again; words, items, long tables."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import pytest

from archive.analysis.asked.kinds import Request
from archive.analysis.asked.offered import KINDS
from archive.analysis.asked.running import run, told
from archive.analysis.asked.testing import TESTS
from archive.analysis.handing.bodies import BODIES, NOT_YET
from archive.analysis.handing.long import HEAD, long_csv
from archive.analysis.handing.methods import methods
from archive.analysis.handing.references import REFERENCES
from archive.analysis.handing.script import cells, notebook, script
from archive.extending.columns import write_columns
from tests.archive.analysis.handed import CASES, DRAWN, DRAWS, FACTS, MORE, Field


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
    facts = {"drawn": DRAWS[case]} if case in DRAWS else FACTS.get(case, {})
    result = told(run(request, paths, facts))["found"]
    text = script("A “title”\n", addresses, request.as_dict(), result, facts)
    exec(compile(text, "handed.py", "exec"), {"__name__": "handed"})
    said = capsys.readouterr().out
    assert " 0 are not; 0 were not made again here." in said, said
    asked = options.get("test")
    assert asked is None or asked in {one["name"] for one in result["tests"]}, result["gaps"]
    # Held against other numbers it says so, and which.
    result["tables"][0]["rows"][0] = [
        one + 1 if isinstance(one, float) else one for one in result["tables"][0]["rows"][0]
    ]
    wrong = script("T", addresses, request.as_dict(), result, facts)
    with pytest.raises(SystemExit):
        exec(compile(wrong, "handed.py", "exec"), {"__name__": "handed"})


def test_every_kind_has_its_program_and_a_case_or_its_program_says_that_it_has_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # A new kind gets its piece in `archive.analysis.handing.bodies`, and a case here.
    assert set(BODIES) | NOT_YET == set(KINDS)
    assert not NOT_YET & set(BODIES)
    assert {case.partition(",")[0] for case in CASES} == set(BODIES)
    done: dict[str, Any] = {}
    exec("import math\n" + "\n".join(BODIES["comparison"][:3]), done)
    assert done["DONE"].keys() == TESTS.keys()
    # Of a kind without a program the table is read, and the recorded numbers are shown.
    fields, rows, columns, _ = CASES["space"]
    _, address = laid(tmp_path / "t", fields, rows)
    monkeypatch.delitem(BODIES, "space")
    table = {"name": "zones", "heads": ["zone", "sightings"], "rows": [["a", 6]]}
    asked = Request("space", "t", columns).as_dict()
    text = script("T", {"2026": address}, asked, {"tables": [table]}, {})
    with pytest.raises(SystemExit) as ended:
        exec(compile(text, "handed.py", "exec"), {"__name__": "handed"})
    said = capsys.readouterr().out
    assert ended.value.code == 2
    assert "does not make" in said
    assert f"{len(rows)} rows" in said
    assert "['a', 6]" in said


def test_the_notebook_holds_the_same_parts_and_the_words() -> None:
    result = {"tables": [], "tests": []}
    asked = Request("space", "t", {"animal": "a", "zone": "z"}).as_dict()
    parts = cells("T", {"2026": "http://here/datapackage.json"}, asked, result, {})
    book = json.loads(notebook(parts, "T", "By zones."))
    assert (book["nbformat"], len(book["cells"])) == (4, 1 + len(parts))
    code = ["".join(cell["source"]) for cell in book["cells"] if cell["cell_type"] == "code"]
    assert code == list(parts)
    assert all(cell["id"] for cell in book["cells"])


def test_a_long_table_has_one_number_a_row_and_no_formula() -> None:
    table = {"name": "t", "heads": ["unit", "arm", "mean"], "rows": [["=T1", "x", 2.5]]}
    test = {"name": "unit_t", "compared": "x minus y", "effect": 1.5, "low": None, "high": None,
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
