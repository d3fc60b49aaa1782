"""The handler for the content of an OpenDocument spreadsheet, as a stream.

References
----------
OpenDocument 1.3 part 3, 9 (tables) and 14.1 (annotations).
"""

from collections.abc import Mapping

from registry.guarded.limits import BookLimits
from registry.guarded.workbook import (
    ENTRIES,
    FIRST,
    MERGES,
    SheetFacts,
    check_weight,
    place,
    whole_of,
)

_TABLE = "urn:oasis:names:tc:opendocument:xmlns:table:1.0 "
_OFFICE = "urn:oasis:names:tc:opendocument:xmlns:office:1.0 "
_CALC = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 "
_REMARK = f"{_OFFICE}annotation"


class Content:
    """Reads the tables of an OpenDocument spreadsheet; rows and cells may be repeated."""

    def __init__(self, limits: BookLimits) -> None:
        self.limits = limits
        self.sheets: list[SheetFacts] = []
        self.row = self.rows = self.column = self.columns = self.at = self.weight = 0
        self.is_hidden = self.is_cell = self.is_error = self.is_used = self.has_used = False
        self.words = ""
        self.is_calculated = self.has_value = self.is_remark = False
        self.remarks = 0

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        """Hear the beginning of a mark."""
        if not tag.startswith(_TABLE):
            self.is_remark = self.is_remark or tag == _REMARK
            self.remarks += tag == _REMARK
            if self.is_cell and not self.is_remark and tag.endswith(" p"):
                self.is_used = self.has_value = True
            return
        name = tag[len(_TABLE) :]
        if name == "table" and len(self.sheets) < ENTRIES:
            self.sheets.append(SheetFacts(given.get(f"{_TABLE}name", "")))
            self.row = self.rows = self.at = 0
        elif name == "table-column":
            count = whole_of(given.get(f"{_TABLE}number-columns-repeated"), 1)
            if given.get(f"{_TABLE}visibility", "visible") != "visible":
                last = min(self.at + count, self.limits.columns)
                self.sheets[-1].hidden_columns |= set(range(self.at + 1, last + 1))
            self.at += count
        elif name == "table-row":
            self.row += self.rows
            self.rows = whole_of(given.get(f"{_TABLE}number-rows-repeated"), 1)
            self.column = self.columns = 0
            self.is_hidden = given.get(f"{_TABLE}visibility", "visible") != "visible"
            self.has_used = False
        elif name in {"table-cell", "covered-table-cell"}:
            self._cell(given)

    def _cell(self, given: Mapping[str, str]) -> None:
        self.column += self.columns
        self.columns = whole_of(given.get(f"{_TABLE}number-columns-repeated"), 1)
        self.is_cell, self.weight, self.words = True, 0, ""
        self.is_used = f"{_OFFICE}value-type" in given or f"{_TABLE}formula" in given
        self.is_calculated = f"{_TABLE}formula" in given
        self.has_value = f"{_OFFICE}value-type" in given
        self.is_error = given.get(f"{_CALC}value-type") == "error"
        across = whole_of(given.get(f"{_TABLE}number-columns-spanned"), 1)
        down = whole_of(given.get(f"{_TABLE}number-rows-spanned"), 1)
        if (across > 1 or down > 1) and len(self.sheets[-1].merges) < MERGES:
            row, column = self.row + 1, self.column + 1
            self.sheets[-1].merges.append((row, column, row + down - 1, column + across - 1))

    def end(self, tag: str) -> None:
        """Hear the end of a mark."""
        if tag == _REMARK:
            self.is_remark = False
        elif tag in {f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"}:
            self._end_cell()
        elif tag == f"{_TABLE}table-row" and self.is_hidden and self.has_used:
            last = min(self.row + self.rows, self.limits.workbook_rows)
            self.sheets[-1].hidden_rows |= set(range(self.row + 1, last + 1))

    def _end_cell(self) -> None:
        self.is_cell = False
        if not self.is_used:
            return
        self.has_used = True
        sheet = self.sheets[-1]
        sheet.sees(self.row + self.rows, self.column + self.columns, self.limits)
        where = place(self.row + 1, self.column + 1)
        if self.is_calculated:
            sheet.formulas += 1
            if len(sheet.formula_places) < FIRST:
                sheet.formula_places.append(where)
            if not self.has_value:
                sheet.unkept += 1
                if len(sheet.unkept_places) < FIRST:
                    sheet.unkept_places.append(where)
        if self.is_error:
            sheet.errors.add(self.row + 1, self.column + 1, self.words.strip() or "#N/A")

    def text(self, words: str) -> None:
        """Hear what stands in it."""
        if self.is_cell:
            self.weight += len(words)
            check_weight(self.weight, self.limits)
            if self.is_error and not self.is_remark and len(self.words) < 20:
                self.words += words
