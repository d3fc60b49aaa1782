"""Safe corrections: the same bytes each time, no guess, and JSON there and back."""

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from archive.engine.corrections import Correction, correction_of, mended, try_out
from archive.engine.corrections.cells import (
    PadZeros,
    PlainNumbers,
    ReorderDates,
    ReplaceCells,
    SerialDates,
    StripUnit,
    Trim,
    Unmangle,
)
from archive.engine.corrections.files import Recode, Redelimit, SwapFiles
from archive.engine.corrections.headings import DropNumbers, RenameColumns
from archive.engine.corrections.lines import DropAbove, DropBlankRows, DropHeadings, DropRow
from archive.engine.corrections.mending import KINDS
from registry.errors import Unsound

ONE_OF_EACH: list[Correction] = [
    DropAbove(2, "a"),
    DropBlankRows(),
    DropHeadings(),
    DropNumbers(has_label=True),
    DropRow(4, ("Total", "6")),
    PadZeros("a", 3),
    PlainNumbers("a", ",", "."),
    Recode("cp1252"),
    Redelimit(";"),
    RenameColumns((("A", "a"), ("B b", "b_b"))),
    ReorderDates("a", "dmy", "date"),
    ReplaceCells("a", (("n/a", ""), ("ce-07", "CE-07"))),
    SerialDates("a", 1900, "date"),
    StripUnit("a", ("cm",)),
    SwapFiles("b"),
    Trim(("a", "b")),
    Unmangle(),
]


def table(room: Path, *lines: str, encoding: str = "utf-8") -> Path:
    path = room / "t.csv"
    path.write_bytes("\n".join([*lines, ""]).encode(encoding))
    return path


def made(path: Path, *corrections: Correction) -> str:
    return b"".join(mended(path, {}, corrections)).decode()


@pytest.mark.parametrize("correction", ONE_OF_EACH, ids=lambda one: one.kind)
def test_a_correction_goes_to_json_and_back(correction: Correction) -> None:
    assert correction_of(correction.as_dict()) == correction


def test_there_is_one_of_each_kind_above() -> None:
    assert {one.kind for one in ONE_OF_EACH} == set(KINDS)


@pytest.mark.parametrize(
    "shape", [{}, {"kind": "guess"}, {"kind": "trim"}, {"kind": "trim", "x": 1}]
)
def test_what_is_no_correction_is_refused_in_words(shape: dict[str, Any]) -> None:
    with pytest.raises(Unsound, match="not a correction"):
        correction_of(shape)


def test_rows_above_the_heading_are_left_out_and_counted(tmp_path: Path) -> None:
    path = table(tmp_path, "Scans of autumn", "", "a,b", "1,2", ",", "Total,2")
    above, total = DropAbove(2, "a"), DropRow(6, ("Total", "2"))
    assert made(path, above, total, DropBlankRows()) == "a,b\n1,2\n"
    trial = try_out(path, {}, [above])
    assert (trial.cells, trial.rows_left_out) == (0, 2)
    assert [(one.row, one.after) for one in trial.first] == [(1, None), (2, None)]
    with pytest.raises(Unsound, match="not the heading that was looked at"):
        made(path, DropAbove(3, "a"))


@pytest.mark.parametrize(
    ("correction", "before", "after"),
    [
        (PlainNumbers("a", ",", ""), "1,5", "1.5"),
        (PlainNumbers("a", ",", ""), "-0,25", "-0.25"),
        (PlainNumbers("a", ",", ""), "1.5", "1.5"),
        (PlainNumbers("a", ",", ""), "n/a", "n/a"),
        (PlainNumbers("a", ",", "."), "1.234.567,5", "1234567.5"),
        (PlainNumbers("a", ".", ","), "1,234.5", "1234.5"),
        (PlainNumbers("a", ".", "\u202f"), "12\u202f500", "12500"),
        (ReorderDates("a", "dmy", "date"), "31/05/2026", "2026-05-31"),
        (ReorderDates("a", "mdy", "date"), "5/31/2026", "2026-05-31"),
        (ReorderDates("a", "ydm", "date"), "2026-31-05", "2026-05-31"),
        (ReorderDates("a", "dmy", "date"), "2026-05-31", "2026-05-31"),
        (ReorderDates("a", "mdy", "%d/%m/%Y"), "03/04/2026", "04/03/2026"),
        (ReorderDates("a", "dmy", "datetime"), "31.05.2026 14:05", "2026-05-31T14:05:00"),
        # Serial 1 is 1 January 1900, and 1900 counts as a leap year: known, from memory.
        (SerialDates("a", 1900, "date"), "46173", "2026-05-31"),
        (SerialDates("a", 1904, "date"), "44711", "2026-05-31"),
        (SerialDates("a", 1900, "datetime"), "46173.5", "2026-05-31T12:00:00"),
        (StripUnit("a", ("cm",)), "12 cm", "12"),
        (PadZeros("a", 3), "7", "007"),
        (PadZeros("a", 3), "R7", "R7"),
        (Trim(("a",)), "\u00a0 CE\u00a007 ", "CE 07"),
        (Unmangle(), "4 Â°C, SeÃ±al", "4 °C, Señal"),
        (Unmangle(), "Ångström", "Ångström"),
    ],
)
def test_a_cell_becomes_what_it_meant(
    correction: Correction, before: str, after: str, tmp_path: Path
) -> None:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([["a", "b"], [before, "left, as it is"]])
    path = table(tmp_path, out.getvalue().rstrip("\n"))
    assert list(csv.reader(io.StringIO(made(path, correction)))) == [
        ["a", "b"],
        [after, "left, as it is"],
    ]
    trial = try_out(path, {}, [correction])
    assert trial.cells == (before != after)
    assert [(one.row, one.column, one.before, one.after) for one in trial.first] == (
        [(2, "a", before, after)] if before != after else []
    )


@pytest.mark.parametrize(
    ("correction", "cells", "words"),
    [
        (PlainNumbers("a", ",", ""), ["2.5", '"1,234"'], "points and commas"),
        (PlainNumbers("a", ",", "."), ["1.234"], "thousands or a decimal"),
        (ReorderDates("a", "dmy", "date"), ["05/31/2026"], "cannot be read"),
        (ReorderDates("a", "dmy", "datetime"), ["31/05/2026"], "no time of day"),
        (SerialDates("a", 1900, "date"), ["46173.5"], "time of day"),
        (StripUnit("a", ("cm",)), ["12 cm", "12 mm"], "nothing is converted unseen"),
        (Trim(("c",)), ["x"], "no column “c”"),
        (DropRow(2, ("y",)), ["x"], "not the one"),
        (RenameColumns((("a", "b"),)), ["x"], "same name"),
        (Recode("utf-16"), ["x"], "cannot be read"),
    ],
)
def test_a_cell_that_could_mean_two_things_refuses_the_whole_correction(
    correction: Correction, cells: list[str], words: str, tmp_path: Path
) -> None:
    path = table(tmp_path, "a,b", *(f"{cell},1" for cell in cells))
    before = path.read_bytes()
    with pytest.raises(Unsound) as refusal:
        try_out(path, {}, [correction])
    assert words in refusal.value.why
    assert refusal.value.next
    assert path.read_bytes() == before


def test_running_numbers_that_do_not_count_on_are_no_numbers_to_leave_out(tmp_path: Path) -> None:
    path = table(tmp_path, ",a", "1,x", "3,y")
    with pytest.raises(Unsound, match="does not count on"):
        made(path, DropNumbers(has_label=True))


def test_several_are_made_in_their_turn(tmp_path: Path) -> None:
    path = table(tmp_path, ";A;b", "1;1,5 m;x ", "2;;", encoding="utf-8")
    corrections = (
        DropBlankRows(),
        Trim(("b",)),
        RenameColumns((("A", "a"),)),
        DropNumbers(has_label=True),
        Redelimit(";"),
    )
    assert made(path, *corrections) == 'a,b\n"1,5 m",x\n'
    trial = try_out(path, {}, corrections)
    assert trial.rows_left_out == 1


@pytest.mark.parametrize("layout", [{"escapeChar": "\\"}, {"quoteChar": ""}])
def test_a_layout_that_is_not_written_again_is_refused(
    layout: dict[str, str], tmp_path: Path
) -> None:
    with pytest.raises(Unsound, match="escapes"):
        list(mended(table(tmp_path, "a", "x "), layout, [Trim(("a",))]))


@settings(max_examples=80, deadline=None)
@given(
    some.lists(
        some.lists(
            some.text(max_size=8).map(lambda t: t.replace("\0", "")), min_size=2, max_size=2
        ),
        max_size=8,
    )
)
def test_whatever_stands_there_the_same_bytes_come_each_time_and_a_second_time_does_nothing(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]]
) -> None:
    path = tmp_path_factory.mktemp("rows") / "t.csv"
    out = io.StringIO(newline="")
    csv.writer(out).writerows([["a", "b"], *rows])
    path.write_bytes(out.getvalue().encode("utf-8", "replace"))
    before = path.read_bytes()
    once = b"".join(mended(path, {}, [Trim(("a",))]))
    assert once == b"".join(mended(path, {}, [Trim(("a",))]))
    assert path.read_bytes() == before
    path.write_bytes(once)
    assert b"".join(mended(path, {}, [Trim(("a",))])) == once
    read = list(csv.reader(io.StringIO(once.decode(), newline="")))
    assert [row[1] for row in read[1:] if row] == [
        row[1] for row in csv.reader(io.StringIO(before.decode(), newline="")) if row
    ][1:]
