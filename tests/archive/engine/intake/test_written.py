"""Workbooks that two libraries write, read here and by a third: the same values in each cell.

Sources: openpyxl 3.1 and xlsxwriter 3 as writers, openpyxl.load_workbook(data_only=True) as the
other reader, each as installed; ISO/IEC 29500-1:2016 annex L, L.2.16.9.1 and L.2.16.9.3, for the
serial numbers (as reproduced at ooxml.info).
"""

import io
import tempfile
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import xlsxwriter
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.engine.intake.days import serial_day
from archive.engine.intake.values import said
from archive.engine.limits import Limits
from registry.guarded.book import Book
from tests.archive.engine.intake.making import laid

pytestmark = pytest.mark.outside

MOMENTS = st.datetimes(datetime(1900, 3, 1), datetime(2099, 12, 31)).map(  # noqa: DTZ001  # why: a cell names no zone
    lambda moment: moment.replace(microsecond=0)
)
VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**9), 10**9),
    st.floats(-1e6, 1e6, allow_nan=False).map(lambda value: round(value, 6) + 0.0),
    st.from_regex(r"[A-Za-zé ]{1,12}[a-z]", fullmatch=True),
    MOMENTS,
    MOMENTS.map(datetime.date),
)
TABLES = st.lists(st.lists(VALUES, min_size=1, max_size=5), min_size=1, max_size=8)


def by_openpyxl(rows: list[list[Any]]) -> bytes:
    workbook = openpyxl.Workbook()
    for row in rows:
        workbook.active.append(row)
    made = io.BytesIO()
    workbook.save(made)
    return made.getvalue()


def by_xlsxwriter(rows: list[list[Any]], *, is_1904: bool = False) -> bytes:
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"in_memory": True, "date_1904": is_1904}) as workbook:
        sheet = workbook.add_worksheet()
        formats = {
            datetime: workbook.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"}),
            date: workbook.add_format({"num_format": "yyyy-mm-dd"}),
        }
        for at, row in enumerate(rows):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(at, column, value)
                elif value is not None:
                    sheet.write(at, column, value, formats.get(type(value)))
    return made.getvalue()


def from_1904(rows: list[list[Any]]) -> bytes:
    return by_xlsxwriter(rows, is_1904=True)


@pytest.mark.parametrize("write", [by_openpyxl, by_xlsxwriter, from_1904])
@given(rows=TABLES)
@settings(max_examples=40, deadline=None, derandomize=True)
def test_what_two_libraries_write_is_read_as_a_third_reads_it(
    write: Any, rows: list[list[Any]]
) -> None:
    rows = [[_writable(value, write) for value in row] for row in rows]
    with tempfile.TemporaryDirectory() as room:
        path = laid(Path(room), "book.xlsx", write(rows))
        book = Book(path, Limits())
        ours = {
            (number, column): _plain(cell)
            for number, cells in book.rows(book.names[0])
            for column, cell in enumerate(cells, start=1)
            if _plain(cell) is not None
        }
        sheet = openpyxl.load_workbook(path, data_only=True).worksheets[0]
        theirs = {
            (cell.row, cell.column): _plain(cell.value)
            for row in sheet.iter_rows()
            for cell in row
            if _plain(cell.value) is not None
        }
    assert ours == theirs
    wanted = {
        (at, column): _plain(value)
        for at, row in enumerate(rows, start=1)
        for column, value in enumerate(row, start=1)
        if _plain(value) is not None
    }
    assert ours == wanted


def _writable(value: Any, write: Any) -> Any:
    """No workbook that counts from 1904 can say an earlier day."""
    first = date(1904, 1, 2)
    day = value.date() if isinstance(value, datetime) else value
    return first if write is from_1904 and isinstance(day, date) and day < first else value


def _plain(value: Any) -> str | None:
    """Write a value as the intake does, to the second; nothing for an empty cell."""
    if value is None or value == "":
        return None
    if isinstance(value, datetime):
        value = (value + timedelta(milliseconds=500)).replace(microsecond=0)
    if isinstance(value, float | int) and not isinstance(value, bool):
        return f"{value:.12g}"
    return said(value)


@pytest.mark.parametrize(
    ("system", "serial", "moment"),
    [
        # L.2.16.9.1: the first day and the base of the 1900 backward compatibility system ...
        ("serial-1900", 1, "1900-01-01T00:00:00"),
        # ... and of the 1904 system; days after February 1900 are alike in both 1900 systems.
        ("serial-1904", 0, "1904-01-01T00:00:00"),
        ("serial-1900", 3687, "1910-02-03T00:00:00"),
        ("serial-1900", 38749, "2006-02-01T00:00:00"),
        ("serial-1900", 2958465, "9999-12-31T00:00:00"),
        # L.2.16.9.3: with a clock time.
        ("serial-1900", 3687.4207639, "1910-02-03T10:05:54"),
        ("serial-1904", 2225.4207639, "1910-02-03T10:05:54"),
        ("serial-1904", 0.5, "1904-01-01T12:00:00"),
    ],
)
def test_serial_numbers_are_the_days_of_the_standard(
    system: str, serial: float, moment: str
) -> None:
    found = serial_day(serial, system)
    assert found is not None
    # The standard prints seven decimals of a day: some hundredths of a second.
    assert found.replace(microsecond=0).isoformat() == moment


def test_the_day_that_the_standard_counts_and_that_never_was_is_none() -> None:
    # 18.17.4.1 of the same: 29 February 1900 is serial 60 in the backward compatibility system.
    assert serial_day(60, "serial-1900") is None
    assert serial_day(59, "serial-1900") == datetime(1900, 2, 28)  # noqa: DTZ001  # why: a cell names no zone
    assert serial_day(61, "serial-1900") == datetime(1900, 3, 1)  # noqa: DTZ001  # why: the same


def test_days_that_a_workbook_keeps_as_iso_texts_are_days(tmp_path: Path) -> None:
    # ISO/IEC 29500-1, 18.18.11: the cell type "d", which openpyxl writes where it is told to.
    workbook = openpyxl.Workbook()
    workbook.iso_dates = True
    workbook.active.append(["seen_on", "seen_at"])
    workbook.active.append([date(2026, 11, 24), datetime(2026, 11, 24, 9, 30)])  # noqa: DTZ001  # why: a cell names no zone
    path = tmp_path / "book.xlsx"
    workbook.save(path)
    rows = list(Book(path, Limits()).rows("Sheet"))
    assert [said(cell) for cell in rows[1][1]] == ["2026-11-24", "2026-11-24T09:30:00"]
