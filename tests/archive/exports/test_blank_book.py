"""The blank workbook, read back by openpyxl."""

import io

import openpyxl
import pytest

from archive.exports.blank_book import blank_book

FIELDS = [
    {"name": "code", "type": "string", "title": "Code", "description": "By its tag.",
     "constraints": {"required": True}},
    {"name": "posture", "type": "string", "x:ethogram": [
        {"code": "R", "name": "rest"}, {"code": "S", "name": "swim"}]},
    {"name": "depth", "type": "number", "x:unit": "m",
     "constraints": {"minimum": 0, "maximum": 12}},
    {"name": "eggs", "type": "integer", "x:unit": "{eggs}", "constraints": {"minimum": 0}},
    {"name": "seen_on", "type": "date"},
    {"name": "sure", "type": "boolean"},
]  # fmt: skip


@pytest.fixture(scope="module")
def book():
    tables = [
        {"name": "scans", "schema": {"fields": FIELDS}},
        {"name": "codes", "schema": {"fields": [{"name": "=1+1", "type": "string"}]}},
        {"name": "a-name-that-is-longer-than-any-sheet-may-have/1", "schema": {"fields": FIELDS}},
    ]
    return openpyxl.load_workbook(io.BytesIO(blank_book(tables)))


def test_each_table_has_a_sheet_headed_as_the_dictionary_heads_it(book):
    assert book.sheetnames[0] == "scans"
    assert [cell.value for cell in book["scans"][1]] == [field["name"] for field in FIELDS]
    # A table may be called as the program's own sheets are, and longer than a sheet may.
    assert book.sheetnames[3:] == ["columns", "codes"]
    assert len(set(book.sheetnames)) == 5
    assert max(map(len, book.sheetnames)) <= 31
    odd = book[book.sheetnames[1]]["A1"]
    assert (odd.value, odd.data_type) == ("=1+1", "s")


def test_codes_are_chosen_from_a_list_and_numbers_are_asked_within_their_limits(book):
    rules = {str(rule.sqref): rule for rule in book["scans"].data_validations.dataValidation}
    listed = rules["B2:B2001"]
    assert (listed.type, listed.errorStyle) == ("list", "warning")
    place = listed.formula1.replace("'codes'!", "").replace("codes!", "").replace("$", "")
    assert [cell.value for (cell,) in book["codes"][place]] == ["R", "S"]
    depth, eggs = rules["C2:C2001"], rules["D2:D2001"]
    assert (depth.type, depth.operator, depth.formula1, depth.formula2) == (
        "decimal", None, "0", "12",
    )  # fmt: skip
    assert (eggs.type, eggs.operator, eggs.formula1) == ("whole", "greaterThanOrEqual", "0")
    truths = rules["F2:F2001"].formula1.split("!")[1].replace("$", "")
    assert [cell.value for (cell,) in book["codes"][truths]] == ["true", "false"]


def test_units_and_notes_stand_at_each_column(book):
    scans = book["scans"]
    assert scans["A1"].comment.text == "By its tag. Must be filled."
    assert scans["C1"].comment.text == "In m. 0 to 12."
    told = {row[1].value: [cell.value for cell in row] for row in book["columns"].iter_rows()}
    assert told["depth"] == ["a-name-that-is-longer-than-any-sheet-may-have/1", "depth", "depth",
                             None, "m", "0 to 12", None]  # fmt: skip
    assert told["code"][6] == "yes"


def test_texts_are_kept_as_typed_and_days_are_shown_as_the_check_wants_them(book):
    shown = {name: book["scans"].column_dimensions[name].number_format for name in "ABE"}
    assert shown == {"A": "@", "B": "@", "E": "yyyy-mm-dd"}
