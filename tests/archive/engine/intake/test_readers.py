"""The values that intake reads, against readers that others wrote: pandas and openpyxl.

Sources: pandas.read_csv of pandas 3 and openpyxl.load_workbook of openpyxl 3.1, both as installed.
"""

import csv
import io
import warnings
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pandas as pd
import pytest

from archive.engine.intake.building import recipe_of
from archive.engine.intake.converting import convert_here
from archive.engine.intake.days import serial_day
from archive.engine.intake.proposing import look
from archive.engine.intake.values import said
from archive.engine.limits import Limits
from registry.guarded.scan import scan
from tests.archive.engine.intake.cases import BOOKS, TEXTS, Case
from tests.archive.engine.intake.making import laid

pytestmark = pytest.mark.outside
LIMITS = Limits()
SPREADSHEETS = [case for case in BOOKS if case.content[:2] == b"PK" and case.file[-4:] == "xlsx"]


def _raw(case: Case, folder: Path) -> tuple[Any, list[list[str]]]:
    """Read a case by its recipe with every rule taken off, so that cells come as they were read."""
    path = laid(folder, case.file, case.content)
    recipe = recipe_of(
        look(path, case.file, None, None, case.answers, LIMITS), _plain_answers(case)
    )
    out = folder / "raw.csv"
    convert_here(path, recipe, out, LIMITS)
    return recipe, list(csv.reader(io.StringIO(out.read_text(encoding="utf-8"))))


def _plain_answers(case: Case) -> dict[str, str]:
    answers = {**case.answers}
    for at in range(12):
        answers |= {f"{key}:{at}": "as it stands" for key in ("dates", "serial", "decimal")}
        answers[f"column:{at}"] = "own name"
    return answers | {"errors": "keep", "hidden_rows": "keep", "end": answers.get("end", "all")}


TITLED = [
    case for case in TEXTS if "header" not in case.expected and not case.told
    and case.expected.get("quote") != "none"
    # No reader of others reads two encodings in one file.
    and case.name != "two encodings joined"
]  # fmt: skip


@pytest.mark.parametrize("case", TITLED, ids=lambda case: case.name)
def test_pandas_reads_the_same_cells_of_a_text(case: Case, tmp_path: Path) -> None:
    recipe, ours = _raw(case, tmp_path)
    theirs = pd.read_csv(
        tmp_path / case.file, sep=recipe.delimiter, encoding=recipe.encoding, dtype=str,
        quotechar=recipe.quote, keep_default_na=False, index_col=False, engine="c",
    )  # fmt: skip
    # What it names so has no heading.
    theirs = theirs.loc[:, ~theirs.columns.str.startswith("Unnamed")]
    assert [name.strip() for name in theirs.columns] == list(ours[0])
    assert [[str(cell) for cell in row] for row in theirs.to_numpy().tolist()] == ours[1:]


@pytest.mark.parametrize("case", SPREADSHEETS, ids=lambda case: case.name)
def test_openpyxl_reads_the_same_cells_of_a_workbook(case: Case, tmp_path: Path) -> None:
    path = laid(tmp_path, case.file, case.content)
    made = look(path, case.file, case.table, None, case.answers, LIMITS)
    recipe = recipe_of(made, case.answers)
    done = convert_here(path, recipe, tmp_path / "out", LIMITS)
    with (tmp_path / "out").open(encoding="utf-8", newline="") as file:
        ours = list(csv.reader(file))
    sheet = openpyxl.load_workbook(path, data_only=True)[recipe.sheet]
    compared = 0
    for at, row in enumerate(ours[1:], start=2):
        source = done.source_row(at)
        assert source is not None
        for rule in recipe.columns:
            if not rule.name or rule.is_changing:
                continue
            theirs: Any = _covered(sheet, source, rule.position + 1, recipe.merges).value
            cell = row[ours[0].index(rule.name)]
            assert cell == _as_ours(theirs, rule.type, recipe.errors), (source, rule.name)
            compared += 1
    assert compared


def _covered(sheet: Any, row: int, column: int, merges: str) -> Any:
    """Give the cell that counts for a place: where merged ones are filled, the topmost."""
    for one in sheet.merged_cells.ranges if merges == "fill" else ():
        if one.min_row <= row <= one.max_row and one.min_col == column:
            return sheet.cell(one.min_row, column)
    return sheet.cell(row, column)


def _as_ours(theirs: Any, kind: str, errors: str) -> str:
    if theirs is None or (errors == "blank" and isinstance(theirs, str) and theirs[:1] == "#"):
        return ""
    if isinstance(theirs, datetime) and kind == "datetime":
        return theirs.isoformat()
    if isinstance(theirs, datetime | date | time | bool | int | float):
        return said(theirs)
    return str(theirs)


@pytest.mark.parametrize("case", SPREADSHEETS, ids=lambda case: case.name)
def test_openpyxl_sees_the_same_merges_hidden_rows_and_formulas(case: Case, tmp_path: Path) -> None:
    path = laid(tmp_path, case.file, case.content)
    facts = scan(path, LIMITS)
    formulas = openpyxl.load_workbook(path)
    assert [one.name for one in facts.sheets] == formulas.sheetnames
    assert facts.is_1904 is (formulas.epoch.year == 1904)
    for one in facts.sheets:
        sheet = formulas[one.name]
        merged = {(m.min_row, m.min_col, m.max_row, m.max_col) for m in sheet.merged_cells.ranges}
        assert set(one.merges) == merged
        assert one.hidden_rows == {n for n, row in sheet.row_dimensions.items() if row.hidden}
        assert one.formulas == sum(cell.data_type == "f" for row in sheet for cell in row)
        assert one.is_hidden is (sheet.sheet_state != "visible")


@pytest.mark.parametrize(
    "serial", [1, 2, 58, 59, 61, 62, 366, 20_000, 46_350, 46_350.25, 73_050.75]
)
def test_openpyxl_gives_a_serial_number_the_same_moment(serial: float) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = openpyxl.utils.datetime.from_excel(serial)
        later = openpyxl.utils.datetime.from_excel(
            serial, openpyxl.utils.datetime.CALENDAR_MAC_1904
        )
    assert serial_day(serial, "serial-1900") == theirs
    assert serial_day(serial, "serial-1904") == later


SUITE = {
    "table.xls": [["id", "name"], ["1", "english"], ["2", "中国人"]],
    "table.ods": [["id", "name"], ["1", "english"], ["2", "中国人"]],
    "table.xlsx": [["id", "name"], ["1", "english"], ["2", "中国人"]],
    "table-with-booleans.xls": [["id", "boolean"], ["1", "true"], ["2", "false"]],
}
"""Tables of frictionless' own test data (folder data), as its own tests expect them."""


@pytest.mark.parametrize("name", SUITE)
def test_a_workbook_that_others_made_is_read_as_its_twin(
    name: str, suites: Path, tmp_path: Path
) -> None:
    path = suites / "frictionless" / "data" / name
    made = look(path, name, None, None, {}, LIMITS)
    assert ("old workbook" in {one.code for one in made.notices}) is name.endswith(".xls")
    convert_here(path, recipe_of(made, {}), tmp_path / "out", LIMITS)
    with (tmp_path / "out").open(encoding="utf-8", newline="") as file:
        assert list(csv.reader(file)) == SUITE[name]
