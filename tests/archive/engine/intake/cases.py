"""Forty and more awkward files, each with what is to be proposed and what is to come of it."""

from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any

from tests.archive.engine.intake.making import PLAIN, book, cells, ods, ods_row, table

FIRST, SECOND, THIRD = PLAIN.splitlines()[1:]


@dataclass(frozen=True)
class Case:
    """One awkward file.

    `expected` is the choice proposed by key ("" where it must be asked), `answers` what a person
    then says, `told` the codes of notices, `result` the table that comes of it.
    """

    name: str
    file: str
    content: bytes
    expected: dict[str, str] = field(default_factory=dict)
    told: tuple[str, ...] = ()
    answers: dict[str, str] = field(default_factory=dict)
    result: str = PLAIN
    fields: tuple[dict[str, Any], ...] = ()
    left: int = 0

    @property
    def table(self) -> dict[str, Any]:
        return table(*self.fields)


def _text(name: str, text: str, *, encoding: str = "utf-8", **more: Any) -> Case:
    return Case(name, "scans.csv", text.encode(encoding), **more)


SEMI = PLAIN.replace(",", ";")
COMMA_DECIMAL = SEMI.replace(".", ",")
DAY_FIRST = (
    PLAIN.replace("2026-11-24", "24/11/2026")
    .replace("2026-11-25", "25/11/2026")
    .replace("2026-11-26", "26/11/2026")
)
EITHER = (
    PLAIN.replace("2026-11-24", "03/04/2026")
    .replace("2026-11-25", "04/04/2026")
    .replace("2026-11-26", "05/04/2026")
)
EITHER_DMY = (
    PLAIN.replace("2026-11-24", "2026-04-03")
    .replace("2026-11-25", "2026-04-04")
    .replace("2026-11-26", "2026-04-05")
)
EITHER_MDY = (
    PLAIN.replace("2026-11-24", "2026-03-04")
    .replace("2026-11-25", "2026-04-04")
    .replace("2026-11-26", "2026-05-04")
)
NOTE = "Température relevée à midi"
ACCENTED = PLAIN.replace("R-01", "Zoé").replace("R-02", "Ünal")
TANK = ({"name": "tank", "type": "string", "constraints": {"enum": ["007", "012", "113"]}},
        {"name": "eggs", "type": "integer"})  # fmt: skip
CLOCKED = ({"name": "ray", "type": "string"}, {"name": "seen_at", "type": "datetime"},
           {"name": "fed_at", "type": "time"}, {"name": "is_fed", "type": "boolean"})  # fmt: skip

TEXTS = [
    _text("plain", PLAIN, expected={"delimiter": ",", "header": "1"}),
    _text("semicolon", SEMI, expected={"delimiter": ";"}),
    _text("tab", PLAIN.replace(",", "\t"), expected={"delimiter": "\t"}),
    _text("bar", PLAIN.replace(",", "|"), expected={"delimiter": "|"}),
    _text(
        "decimal comma", COMMA_DECIMAL, expected={"delimiter": ";", "decimal:3": "comma"}
    ),
    _text(
        "decimal comma, quoted, between commas",
        PLAIN.replace("1.5", '"1,5"').replace("2.25", '"2,25"').replace("0.75", '"0,75"'),
        expected={"delimiter": ",", "decimal:3": "comma"},
    ),
    _text(
        "points between thousands and a decimal comma",
        SEMI.replace("1.5", "1.250,5").replace("2.25", "2,25").replace("0.75", "0,75"),
        expected={"decimal:3": "comma"},
        result=PLAIN.replace("1.5", "1250.5"),
    ),
    _text(
        "commas between thousands",
        PLAIN.replace("1.5", '"1,250.5"').replace("2.25", '"12,000.25"'),
        expected={"decimal:3": "group"},
        result=PLAIN.replace("1.5", "1250.5").replace("2.25", "12000.25"),
    ),
    _text(
        "a comma that may be either",
        SEMI.replace("1.5", "1,250").replace("2.25", "2,250").replace("0.75", "3,750"),
        expected={"decimal:3": ""},
        answers={"decimal:3": "group"},
        result=PLAIN.replace("1.5", "1250").replace("2.25", "2250").replace("0.75", "3750"),
    ),
    _text("byte order mark", PLAIN, encoding="utf-8-sig", expected={"encoding": "utf-8-sig"}),
    _text("utf-16 with a mark", PLAIN, encoding="utf-16", expected={"encoding": "utf-16"}),
    _text("utf-16 without", PLAIN, encoding="utf-16-le", expected={"encoding": "utf-16-le"}),
    _text("utf-16, big end", PLAIN, encoding="utf-16-be", expected={"encoding": "utf-16-be"}),
    _text(
        "windows-1252", ACCENTED.replace("R-03", "Léa’s"), encoding="cp1252",
        expected={"encoding": "cp1252"}, result=ACCENTED.replace("R-03", "Léa’s"),
    ),
    _text("latin-1", ACCENTED, encoding="latin-1", expected={"encoding": "cp1252"},
          answers={"encoding": "latin-1"}, result=ACCENTED),
    Case("latin-1 that windows-1252 is not", "scans.csv",
         ACCENTED.replace("R-03", "R\x81").encode("latin-1"),
         expected={"encoding": "latin-1"}, result=ACCENTED.replace("R-03", "R\x81")),
    Case("an accent beyond the first hundred kilobytes", "scans.csv",
         (PLAIN + "R-04,2026-11-27,SWIM,1.5\n" * 6000 + "Zoé,2026-11-27,SWIM,1.5\n")
         .encode("cp1252"),
         expected={"encoding": "cp1252"},
         result=PLAIN + "R-04,2026-11-27,SWIM,1.5\n" * 6000 + "Zoé,2026-11-27,SWIM,1.5\n"),
    _text("title lines above", f"Scans of rays\nAutumn 2026\n\n{PLAIN}", expected={"header": "4"}),
    _text(
        "title lines that hold commas", f"Scans, of rays, autumn, 2026\n{PLAIN}",
        expected={"header": "2"},
    ),
    _text(
        "notes under a blank row", f"{PLAIN}\nRay 2 was fed late.\nAsk the keeper.\n",
        expected={"end": "blank"}, told=("notes",),
    ),
    _text(
        "notes right under", f"{PLAIN}* seen from above only\n",
        expected={"end": "narrow"}, told=("notes",),
    ),
    _text(
        "one short word under it", f"{PLAIN}R-04\n", expected={"end": ""}, told=("notes",),
        answers={"end": "all"}, result=f"{PLAIN}R-04,,,\n",
    ),
    _text("blank rows at the end", f"{PLAIN},,,\n,,,\n\n", told=("blank rows",)),
    _text(
        "blank rows inside", PLAIN.replace("R-03", "\n,,,\nR-03"),
        expected={"blanks": "leave out"}, told=("blank rows",),
    ),
    _text(
        "blank rows inside and notes",
        f"{PLAIN.replace('R-03', ',,,' + chr(10) + 'R-03')}\nNote.\n",
        expected={"end": "narrow", "blanks": "leave out"}, told=("blank rows", "notes"),
    ),
    _text("days first", DAY_FIRST, expected={"dates:1": "dmy"}),
    _text(
        "months first",
        DAY_FIRST.replace("24/11", "11/24").replace("25/11", "11/25").replace("26/11", "11/26"),
        expected={"dates:1": "mdy"},
    ),
    _text("dates with points and two-digit years",
          DAY_FIRST.replace("/", ".").replace("2026", "26"),
          expected={"dates:1": "dmy"}),
    _text("days or months first, said day", EITHER, expected={"dates:1": ""},
          answers={"dates:1": "dmy"}, result=EITHER_DMY),
    _text("days or months first, said month", EITHER, expected={"dates:1": ""},
          answers={"dates:1": "mdy"}, result=EITHER_MDY),
    _text(
        "mixed dates", DAY_FIRST.replace("26/11/2026", "11/26/2026"), expected={"dates:1": ""},
        answers={"dates:1": "dmy"}, left=1, result=PLAIN.replace("2026-11-26", "11/26/2026"),
    ),
    _text(
        "iso and day first mixed", PLAIN.replace("2026-11-26", "26/11/2026"),
        expected={"dates:1": "dmy"}, told=("mixed dates",),
    ),
    _text(
        "days as numbers in a text",
        PLAIN.replace("2026-11-24", "46350").replace("2026-11-25", "46351").replace(
            "2026-11-26", "46352"),
        expected={"serial:1": ""}, answers={"serial:1": "serial-1900"},
    ),
    _text("the year first, with strokes",
          PLAIN.replace("2026-11-24", "2026/11/24").replace("2026-11-25", "2026/11/25"),
          expected={"dates:1": "ymd"}, told=("mixed dates",)),
    _text("the month in words",
          PLAIN.replace("2026-11-24", "24 Nov 2026").replace("2026-11-25", "Wed 25-Nov-26")
          .replace("2026-11-26", '"November 26, 2026"'),
          expected={"dates:1": "ymd"}),
    _text("days of eight digits", PLAIN.replace("2026-11-", "202611"),
          expected={"dates:1": "ymd"}),
    _text("year, day, month", PLAIN.replace("2026-11-24", "2026-24-11"),
          expected={"dates:1": "as it stands"}, told=("no date",),
          result=PLAIN.replace("2026-11-24", "2026-24-11")),
    _text("clocks of twelve hours and short ones",
          "ray,seen_at,fed_at,is_fed\nR-01,24/11/2026 9:05 pm,9:45,true\n"
          "R-02,25/11/2026 12:10 am,12:05 PM,false\n",
          fields=CLOCKED, expected={"dates:1": "dmy", "clock:2": "full"},
          result="ray,seen_at,fed_at,is_fed\nR-01,2026-11-24T21:05:00,09:45:00,true\n"
          "R-02,2026-11-25T00:10:00,12:05:00,false\n"),
    _text("no headings", PLAIN.partition("\n")[2], expected={"header": ""},
          answers={"header": "none"}),
    _text("the headings again", PLAIN.replace("R-03", "ray,seen_on,posture,depth\nR-03"),
          expected={"repeats": "leave out"}, told=("headings again",)),
    _text("totals at the foot", f"{PLAIN}Total,,,4.5\nmean,,,1.5\n",
          expected={"sums": "leave out"}, told=("totals",)),
    _text("an animal named like a total", PLAIN.replace("R-02", "Max").replace("2026-11-25,SWIM",
          ","), expected={"sums": ""}, answers={"sums": "keep"}, told=("totals",),
          result=PLAIN.replace("R-02,2026-11-25,SWIM", "Max,,")),
    Case("two encodings joined", "scans.csv",
         ACCENTED.encode() + "Zoé,2026-11-27,SWIM,1.5\n".encode("cp1252"),
         expected={"encoding": "utf-8 or cp1252"},
         result=f"{ACCENTED}Zoé,2026-11-27,SWIM,1.5\n"),
    _text("a decimal comma that parts its cell", PLAIN.replace("1.5", "1,5"),
          expected={"column:4": ""}, answers={"column:4": "leave out"}, told=("long rows",),
          result=PLAIN.replace("1.5", "1")),
    _text("units in the cells", PLAIN.replace("1.5", "1.5 m"), told=("no number",),
          result=PLAIN.replace("1.5", "1.5 m")),
    _text("spaces about the headings", PLAIN.replace("ray,seen_on", " ray ,seen_on")),
    _text("a sign beyond the last column", PLAIN.replace("\n", ",\n")),
    _text("single quotes", PLAIN.replace("R-0", "'R,0").replace(",2026", "',2026"),
          expected={"quote": "'"}, result=PLAIN.replace("R-01", '"R,01"').replace("R-02", '"R,02"')
          .replace("R-03", '"R,03"')),
    _text("a quote that is never closed", PLAIN.replace("REST,1.5", '"REST,1.5'),
          expected={"quote": "none"}, result=PLAIN.replace("REST,1.5", '"""REST",1.5')),
    _text("headings with capitals, spaces and units",
          PLAIN.replace("ray,seen_on,posture,depth", "Ray, Seen On ,Posture,Depth (m)")),
    _text("headings in other words",
          PLAIN.replace("ray,seen_on,posture,depth", "animal,date,behaviour,Depths"),
          expected={"column:0": "field ray", "column:1": "field seen_on"}),
    _text("columns in another order",
          "depth,posture,seen_on,ray\n" + "".join(
              ",".join(reversed(row.split(","))) + "\n" for row in (FIRST, SECOND, THIRD))),
    _text("codes under a heading that says nothing",
          PLAIN.replace("posture", "xyz"), expected={"column:2": "field posture"}),
    _text("a column too many", "".join(f"{row},x\n" for row in PLAIN.splitlines()),
          expected={"column:4": ""}, answers={"column:4": "leave out"}),
    _text("a column that holds nothing", PLAIN.replace("depth\n", "depth,notes\n", 1),
          expected={"column:4": "leave out"}, told=("short rows",)),
    _text("a column too few", "".join(row.rpartition(",")[0] + "\n" for row in PLAIN.splitlines()),
          expected={"absent:3": "write empty"},
          result="".join(
              row.rpartition(",")[0] + (",depth\n" if not at else ",\n")
              for at, row in enumerate(PLAIN.splitlines()))),
    _text("a row of units under the headings",
          PLAIN.replace("depth\n", "depth\n,,,m\n"), expected={"header": "1-2"}),
    _text("old line ends", PLAIN.replace("\n", "\r\n")),
    _text("a line break inside a cell", PLAIN.replace("R-02", '"R-\n02"'),
          result=PLAIN.replace("R-02", '"R-\n02"')),
    _text("codes that lost their zeros", "tank,eggs\n7,3\n12,4\n113,5\n",
          fields=TANK, expected={"pad:0": "3"}, result="tank,eggs\n007,3\n012,4\n113,5\n"),
]  # fmt: skip

_ROWS = [
    ["ray", "seen_on", "posture", "depth"],
    ["R-01", date(2026, 11, 24), "REST", 1.5],
    ["R-02", date(2026, 11, 25), "SWIM", 2.25],
    ["R-03", date(2026, 11, 26), "REST", 0.75],
]


def _dated(rows: list[list[Any]], *, top: int = 0) -> Any:
    """Write rows, dates with a date's format."""

    def fill(workbook: Any, sheet: Any) -> None:
        formats = {
            date: workbook.add_format({"num_format": "dd/mm/yyyy"}),
            datetime: workbook.add_format({"num_format": "dd/mm/yyyy hh:mm"}),
            time: workbook.add_format({"num_format": "hh:mm"}),
        }
        for at, row in enumerate(rows, start=top):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(at, column, value)
                elif value is not None:
                    sheet.write(at, column, value, formats.get(type(value)))

    return fill


def _hidden(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS)(workbook, sheet)
    sheet.set_row(2, None, None, {"hidden": True})


def _hidden_column(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS)(workbook, sheet)
    sheet.set_column(3, 3, None, None, {"hidden": True})


def _formulas(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS)(workbook, sheet)
    sheet.write_formula("D2", "=3/2", None, 1.5)
    sheet.write_formula("D3", "=NA()", None, "#N/A")
    sheet.write_formula("D4", "=1/0", None, "#DIV/0!")


def _merged(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS[1:], top=3)(workbook, sheet)
    sheet.merge_range("A1:D1", "Scans of rays, autumn")
    sheet.merge_range("A2:A3", "ray")
    sheet.merge_range("B2:C2", "watch")
    for column, words in enumerate(("seen_on", "posture", "depth"), start=1):
        sheet.write(2, column, words)
    sheet.write("D2", "")


def _offset(workbook: Any, sheet: Any) -> None:
    _dated([[None, None, *row] for row in _ROWS], top=2)(workbook, sheet)


def _two_sheets(workbook: Any, sheet: Any) -> None:
    cells([["Read me"], ["Made for the autumn scans"]])(workbook, sheet)
    _dated(_ROWS)(workbook, workbook.get_worksheet_by_name("Data"))


def _hidden_sheet(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS)(workbook, sheet)
    _dated(_ROWS)(workbook, workbook.get_worksheet_by_name("Old"))
    workbook.get_worksheet_by_name("Old").hide()


def _unreckoned(workbook: Any, sheet: Any) -> None:
    # The library writes an empty text where it is given none, as others write an empty mark.
    _dated(_ROWS)(workbook, sheet)
    sheet.write_formula("D3", "=9/4", None, "")


def _covering(workbook: Any, sheet: Any) -> None:
    _dated([*_ROWS[:3], [None, *_ROWS[3][1:]]])(workbook, sheet)
    sheet.merge_range("A3:A4", "R-02")


def _remarked(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS)(workbook, sheet)
    sheet.write_comment("A2", "Or was it R-02?")


def _twin_sheets(workbook: Any, sheet: Any) -> None:
    _dated(_ROWS)(workbook, sheet)
    _dated(_ROWS)(workbook, workbook.get_worksheet_by_name("Day two"))


def _failing(workbook: Any, sheet: Any) -> None:
    _dated([_ROWS[0], *[_ROWS[1]] * 10_500])(workbook, sheet)
    for at in range(10_500):
        sheet.write_formula(at + 1, 3, "=NA()", None, "#N/A")


_TURNED = [
    _ROWS[0],
    ["R-01", "24/11/2026", "REST", 1.5],
    ["R-02", "25/11/2026", "SWIM", 2.25],
    ["R-03", "26/11/2026", "REST", 0.75],
    *[[f"R-0{n + 3}", date(2026, n, 12), "REST", 1] for n in (1, 2, 3)],
]
"""The first three days of December, typed day first where the workbook reads the month first."""
_MOMENT = datetime.fromisoformat("2026-11-24T09:30:00")
_MIDNIGHT = datetime.fromisoformat("2026-11-24T00:00:00")
_SERIALS = [
    _ROWS[0],
    ["R-01", 46350, "REST", 1.5],
    ["R-02", 46351, "SWIM", 2.25],
    ["R-03", 46352, "REST", 0.75],
]
_SERIALS_1904 = [_ROWS[0], *[[row[0], row[1] - 1462, *row[2:]] for row in _SERIALS[1:]]]
_FAULTY = [_ROWS[0], ["R-01", 59, "REST", 1.5], ["R-02", 60, "SWIM", 2.5], ["R-03", 61, "REST", 3]]

BOOKS = [
    Case("a workbook", "scans.xlsx", book(_dated(_ROWS)), expected={"sheet": "Scans"}),
    Case("a workbook that counts from 1904", "scans.xlsx", book(_dated(_ROWS), is_1904=True),
         told=("1904",)),
    Case("days as plain numbers", "scans.xlsx", book(cells(_SERIALS)),
         expected={"serial:1": "serial-1900"}),
    Case("days as plain numbers from 1904", "scans.xlsx", book(cells(_SERIALS_1904), is_1904=True),
         expected={"serial:1": "serial-1904"}, told=("1904",)),
    Case("the day of 1900 that never was", "scans.xlsx", book(cells(_FAULTY)),
         expected={"serial:1": "serial-1900"}, left=1,
         result="ray,seen_on,posture,depth\nR-01,1900-02-28,REST,1.5\nR-02,60,SWIM,2.5\n"
         "R-03,1900-03-01,REST,3\n"),
    Case("hidden rows, kept", "scans.xlsx", book(_hidden), expected={"hidden_rows": ""},
         told=("hidden rows",), answers={"hidden_rows": "keep"}),
    Case("hidden rows, left out", "scans.xlsx", book(_hidden), expected={"hidden_rows": ""},
         told=("hidden rows",), answers={"hidden_rows": "leave out"},
         result=PLAIN.replace(f"{SECOND}\n", "")),
    Case("a hidden column", "scans.xlsx", book(_hidden_column), told=("hidden columns",)),
    Case("formulas, two of which failed", "scans.xlsx", book(_formulas),
         expected={"errors": "blank"}, told=("formulas", "failed formulas"),
         result=PLAIN.replace("2.25", "").replace("0.75", "")),
    Case("failed formulas, kept for the check", "scans.xlsx", book(_formulas),
         answers={"errors": "keep"}, told=("failed formulas",),
         result=PLAIN.replace("2.25", "#N/A").replace("0.75", "#DIV/0!")),
    Case("merged headings under a merged title", "scans.xlsx", book(_merged),
         expected={"header": "2-3"}, told=("merged cells",)),
    Case("a table that begins in C3", "scans.xlsx", book(_offset),
         expected={"header": "3", "column:0": "leave out"}),
    Case("the second sheet", "scans.xlsx", book(_two_sheets, others=("Data",)),
         expected={"sheet": "Data"}),
    Case("a hidden twin of the sheet", "scans.xlsx", book(_hidden_sheet, others=("Old",)),
         expected={"sheet": "Scans"}),
    Case("numbers stored as text", "scans.xlsx",
         book(_dated([_ROWS[0],
                      *[[*row[:3], str(row[3]).replace(".", ",")] for row in _ROWS[1:]]])),
         expected={"decimal:3": "comma"}, told=("numbers as text",)),
    Case("codes that became numbers", "tanks.xlsx",
         book(cells([["tank", "eggs"], [7, 3], [12, 4], [113, 5]])), fields=TANK,
         expected={"pad:0": "3"}, told=("text as numbers",),
         result="tank,eggs\n007,3\n012,4\n113,5\n"),
    Case("moments, times and truths", "fed.xlsx",
         book(_dated([["ray", "seen_at", "fed_at", "is_fed"],
                      ["R-01", _MOMENT, time(9, 45), True],
                      ["R-02", _MIDNIGHT, time(0, 0), False]])),
         fields=CLOCKED,
         result="ray,seen_at,fed_at,is_fed\nR-01,2026-11-24T09:30:00,09:45:00,true\n"
         "R-02,2026-11-24T00:00:00,00:00:00,false\n"),
    Case("notes under the table of a workbook", "scans.xlsx",
         book(_dated([*_ROWS, [], ["Ray 2 was fed late."]])), expected={"end": "blank"},
         told=("notes",)),
    Case("formulas that were never reckoned", "scans.xlsx", book(_unreckoned),
         told=("formulas", "formula without value"), result=PLAIN.replace("2.25", "")),
    Case("a merged cell over two rows", "scans.xlsx", book(_covering), told=("merged cells",),
         expected={"merges": "fill"}, result=PLAIN.replace("R-03", "R-02")),
    Case("a merged cell that counts for its first row", "scans.xlsx", book(_covering),
         answers={"merges": "first"}, result=PLAIN.replace("R-03", "")),
    Case("a remark on a cell", "scans.xlsx", book(_remarked), told=("remarks",)),
    Case("the same headings on another sheet", "scans.xlsx",
         book(_twin_sheets, others=("Day two",)), told=("twin sheets",),
         expected={"sheet": "Scans"}),
    Case("days of its own, as text and as numbers", "scans.xlsx",
         book(_dated([_ROWS[0], _ROWS[1], ["R-02", "25/11/2026", "SWIM", 2.25],
                      ["R-03", 46352, "REST", 0.75]])),
         expected={"dates:1": "dmy", "serial:1": "serial-1900"}, told=("mixed dates",)),
    Case("days that the workbook turned round", "scans.xlsx", book(_dated(_TURNED)),
         expected={"dates:1": "dmy", "swap:1": ""}, answers={"swap:1": "swap"},
         told=("mixed dates",),
         result=f"{PLAIN}R-04,2026-12-01,REST,1\nR-05,2026-12-02,REST,1\n"
         "R-06,2026-12-03,REST,1\n"),
    Case("days that the workbook did not turn round", "scans.xlsx", book(_dated(_TURNED)),
         expected={"swap:1": ""}, answers={"swap:1": "as it stands"},
         result=f"{PLAIN}R-04,2026-01-12,REST,1\nR-05,2026-02-12,REST,1\n"
         "R-06,2026-03-12,REST,1\n"),
    Case("more failed formulas than are counted one by one", "scans.xlsx", book(_failing),
         expected={"errors": "blank"}, answers={"errors": "keep"}, told=("failed formulas",),
         result="ray,seen_on,posture,depth\n" + "R-01,2026-11-24,REST,#N/A\n" * 10_500),
    Case("a text that is named like a workbook", "scans.xlsx", PLAIN.encode(),
         told=("no workbook",)),
    Case("an OpenDocument sheet", "scans.ods",
         ods(ods_row("ray", "seen_on", "posture", "depth")
             + ods_row("R-01", "date:2026-11-24", "REST", 1.5)
             + ods_row("R-02", "date:2026-11-25", "SWIM", 2.25)
             + ods_row("R-03", "date:2026-11-26", "REST", 0.75)
             + '<table:table-row table:number-rows-repeated="1048570"><table:table-cell'
             ' table:number-columns-repeated="1024"/></table:table-row>'),
         expected={"sheet": "Scans"}),
    Case("hidden and failed in an OpenDocument sheet", "scans.ods",
         ods(ods_row("ray", "seen_on", "posture", "depth")
             + ods_row("R-01", "date:2026-11-24", "REST", 1.5)
             + ods_row("R-02", "date:2026-11-25", "SWIM", 2.25,
                       more=' table:visibility="collapse"')
             + ods_row("R-03", "date:2026-11-26", "REST",
                       '<table:table-cell table:formula="of:=1/0" office:value-type="string"'
                       ' calcext:value-type="error"><text:p>#DIV/0!</text:p></table:table-cell>')),
         told=("hidden rows", "formulas", "failed formulas"), answers={"hidden_rows": "keep"},
         expected={"hidden_rows": "", "errors": "blank"}, result=PLAIN.replace("0.75", "")),
]  # fmt: skip

CASES = [*TEXTS, *BOOKS]
