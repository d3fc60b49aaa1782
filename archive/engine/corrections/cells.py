"""Corrections of the cells of a column."""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import ClassVar

from archive.engine.corrections.correction import Correction, Step, Unclear, on_cells

PLAIN = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
"""A number as the standard writes it."""

DAY = re.compile(
    r"([0-9]{1,4})([-/. ])([0-9]{1,2})\2([0-9]{1,4})(?:[T ]([0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?))?"
)
ORDERS = {"dmy": (2, 1, 0), "mdy": (2, 0, 1), "ydm": (0, 2, 1), "ymd": (0, 1, 2)}
"""Where year, month and day stand."""

EPOCHS = {1900: datetime(1899, 12, 30), 1904: datetime(1904, 1, 1)}  # noqa: DTZ001  # why: no zone
FIRST_SERIAL = 61
"""From here on the 1900 count has no 29 February 1900 in it."""

SPACES = " \t\u00a0\u2007\u202f\u200b\ufeff\r\n"


def read_day(text: str, order: str) -> datetime | None:
    """Read a date of figures in one order, with a year of four figures; None where it is none.

    >>> read_day("31/05/2026", "dmy")
    datetime.datetime(2026, 5, 31, 0, 0)
    """
    told = DAY.fullmatch(text.strip(SPACES))
    if told is None:
        return None
    parts = (told.group(1), told.group(3), told.group(4))
    year, month, day = (parts[at] for at in ORDERS[order])
    if len(year) != len("2026") or len(month) > 2 or len(day) > 2:
        return None
    hour, minute, second = [*map(int, (told.group(5) or "0:0").split(":")), 0][:3]
    try:
        return datetime(int(year), int(month), int(day), hour, minute, second)  # noqa: DTZ001  # why: no zone
    except ValueError:
        return None


def written(moment: datetime, form: str) -> str:
    """Write a date or a time in a column's form: "date", "datetime" or a pattern."""
    if form == "date":
        return moment.date().isoformat()
    if form == "datetime":
        return moment.isoformat()
    return moment.strftime(form)


@dataclass(frozen=True, slots=True)
class ReorderDates(Correction):
    """Read each date of a column in one order, and write it in the column's own form."""

    kind: ClassVar[str] = "reorder_dates"
    column: str
    order: str
    form: str

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Read and write them."""
        return labels, on_cells(labels, [self.column], self._change)

    def _change(self, cell: str) -> str:
        if DAY.fullmatch(cell.strip(SPACES)) is None:
            return cell
        is_plain = self.order != "ydm" and self.form in {"date", "datetime"}
        if is_plain and read_day(cell, "ymd") is not None:
            return cell
        moment = read_day(cell, self.order)
        if moment is None:
            raise Unclear("cannot be read in this order")
        if self.form == "datetime" and ":" not in cell:
            raise Unclear("has no time of day")
        if self.form == "date" and moment.time() != datetime.min.time():
            raise Unclear("holds a time of day, which the column does not")
        return written(moment, self.form)


@dataclass(frozen=True, slots=True)
class SerialDates(Correction):
    """Read whole numbers as days that a spreadsheet counts from 1900 or 1904."""

    kind: ClassVar[str] = "serial_dates"
    column: str
    epoch: int
    form: str

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Read and write them."""
        return labels, on_cells(labels, [self.column], self._change)

    def _change(self, cell: str) -> str:
        moment = read_serial(cell, self.epoch)
        if moment is None:
            return cell
        if self.form == "date" and moment.time() != datetime.min.time():
            raise Unclear("holds a time of day, which the column does not")
        return written(moment, self.form)


def read_serial(text: str, epoch: int) -> datetime | None:
    """Read a spreadsheet's day number; None where it is none, or no day after February 1900."""
    if not re.fullmatch(r"[0-9]{2,5}(\.[0-9]+)?", text.strip(SPACES)):
        return None
    count = float(text)
    if count < FIRST_SERIAL:
        return None
    return EPOCHS[epoch] + timedelta(seconds=round(count * 86_400))


@dataclass(frozen=True, slots=True)
class PlainNumbers(Correction):
    """Write numbers with a point for decimals and nothing between thousands."""

    kind: ClassVar[str] = "plain_numbers"
    column: str
    decimal: str
    group: str

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Write them so; a column that mixes both ways is refused."""
        decimal, group = re.escape(self.decimal), re.escape(self.group)
        whole = rf"[0-9]{{1,3}}(?:{group}[0-9]{{3}})+" if self.group else "[0-9]+"
        tail = rf"(?:{decimal}[0-9]+)" + ("?" if self.group else "")
        theirs = re.compile(rf"[+-]?(?:{whole}|[0-9]+){tail}")
        has_three, has_point = False, False

        def change(cell: str) -> str:
            nonlocal has_three, has_point
            text = cell.strip(SPACES)
            if self.decimal == "," and "." in text and PLAIN.fullmatch(text):
                has_point = True
                if self.group == ".":
                    raise Unclear("may be thousands or a decimal")
            elif theirs.fullmatch(text):
                three = re.fullmatch(rf"[+-]?[1-9][0-9]{{0,2}}{decimal}[0-9]{{3}}", text)
                has_three = has_three or (self.decimal == "," and three is not None)
                text = text.replace(self.group, "") if self.group else text
                text = text.replace(self.decimal, ".")
            elif not PLAIN.fullmatch(text):
                return cell
            if has_three and has_point:
                raise Unclear("stands in a column that has points and commas")
            return text

        return labels, on_cells(labels, [self.column], change)


@dataclass(frozen=True, slots=True)
class StripUnit(Correction):
    """Take the unit out of the cells; it stands in the dictionary. Other units are refused."""

    kind: ClassVar[str] = "strip_unit"
    column: str
    units: tuple[str, ...]

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Take it out."""
        return labels, on_cells(labels, [self.column], self._change)

    def _change(self, cell: str) -> str:
        told = apart(cell)
        if told is None:
            return cell
        number, unit = told
        if unit not in self.units:
            raise Unclear(f"is in “{unit}”, not in {self.units[0]}; nothing is converted unseen")
        return number


def apart(cell: str) -> tuple[str, str] | None:
    """Take number and unit of a cell apart; None where it is not just these two.

    >>> apart("12 cm")
    ('12', 'cm')
    """
    told = re.fullmatch(
        r"([+-]?[0-9]+(?:[.,][0-9]+)?)\s*([^\s0-9.,+\-][^\s0-9]{0,9})", cell.strip()
    )
    return (told.group(1), told.group(2)) if told else None


@dataclass(frozen=True, slots=True)
class ReplaceCells(Correction):
    """Write other words for some: each pair is the cell as it stands and as it is to be."""

    kind: ClassVar[str] = "replace_cells"
    column: str
    words: tuple[tuple[str, str], ...]

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Replace them."""
        words = dict(self.words)
        return labels, on_cells(labels, [self.column], lambda cell: words.get(cell, cell))


@dataclass(frozen=True, slots=True)
class Trim(Correction):
    """Take spaces off both ends of the cells, and make every no-break space a plain one."""

    kind: ClassVar[str] = "trim"
    columns: tuple[str, ...]

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Trim them."""
        return labels, on_cells(labels, self.columns, trimmed)


def trimmed(cell: str) -> str:
    """Give a cell without spaces at its ends or no-break spaces inside."""
    return re.sub("[\u00a0\u2007\u202f]", " ", cell).strip(SPACES)


@dataclass(frozen=True, slots=True)
class PadZeros(Correction):
    """Fill whole numbers up with zeros in front."""

    kind: ClassVar[str] = "pad_zeros"
    column: str
    width: int

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Fill them up."""
        return labels, on_cells(labels, [self.column], self._change)

    def _change(self, cell: str) -> str:
        text = cell.strip(SPACES)
        return text.zfill(self.width) if re.fullmatch("[0-9]+", text) else cell


MANGLED = re.compile("[\u00c2-\u00f4][\u0080-\u00bf\u0152-\u0178\u02c6-\u2122]")
"""The first byte of a letter in UTF-8 and one that follows it, both read as Windows letters."""


@dataclass(frozen=True, slots=True)
class Unmangle(Correction):
    """Mend letters that were written in UTF-8 and read in the old Windows encoding."""

    kind: ClassVar[str] = "unmangle"

    def start(self, labels: list[str]) -> tuple[list[str], Step]:
        """Mend them in every cell; one that does not come out as sound text is left."""
        return [unmangled(label) for label in labels], lambda row, cells: [
            unmangled(cell) for cell in cells
        ]


def unmangled(text: str) -> str:
    """Give the text as it was before it was read in the wrong encoding.

    >>> unmangled("BraÃ±a 4 Â°C")
    'Braña 4 °C'
    """
    if not MANGLED.search(text):
        return text
    try:
        return b"".join(map(_byte, text)).decode("utf-8")
    except (UnicodeEncodeError, UnicodeDecodeError):
        return text


def _byte(letter: str) -> bytes:
    try:
        return letter.encode("cp1252")
    except UnicodeEncodeError:
        return letter.encode("latin-1")
