"""Handlers for the parts of an Office Open XML workbook, as a stream.

References
----------
ISO/IEC 29500-1 (ECMA-376 part 1), 18.2 and 18.3 (workbooks and worksheets).
"""

import posixpath
import re
from collections.abc import Mapping

from registry.guarded.limits import BookLimits
from registry.guarded.workbook import (
    ENTRIES,
    FIRST,
    MERGES,
    SheetFacts,
    check_weight,
    column_of,
    place,
    whole_of,
)

_REF = re.compile(r"([A-Z]{1,4})([0-9]{1,9})")


def tag_of(name: str) -> str:
    """Give a tag without its prefix."""
    return name.rpartition(":")[2] if ":" in name else name


class Head:
    """Reads the list of sheets and the way in which days are counted."""

    def __init__(self) -> None:
        self.sheets: list[tuple[str, str, bool]] = []
        self.is_1904 = False

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        """Hear the beginning of a mark."""
        if tag_of(tag) == "workbookPr":
            self.is_1904 = given.get("date1904", "") in {"1", "true"}
        elif tag_of(tag) == "sheet" and len(self.sheets) < ENTRIES:
            link = next((value for key, value in given.items() if key.endswith(":id")), "")
            hidden = given.get("state", "visible") != "visible"
            self.sheets.append((given.get("name", ""), link, hidden))


class Links:
    """Reads where the sheets lie."""

    def __init__(self) -> None:
        self.targets: dict[str, str] = {}

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        """Hear the beginning of a mark."""
        if tag_of(tag) == "Relationship" and len(self.targets) < ENTRIES:
            target = given.get("Target", "")
            whole = target[1:] if target.startswith("/") else posixpath.join("xl", target)
            self.targets[given.get("Id", "")] = posixpath.normpath(whole)


class Remarks:
    """Counts the remarks that were pinned to cells."""

    def __init__(self) -> None:
        self.count = 0

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        """Count one."""
        self.count += tag_of(tag) == "comment"


class Texts:
    """Weighs the shared texts, one by one."""

    def __init__(self, limits: BookLimits) -> None:
        self.limits, self.weight = limits, 0

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        """Hear the beginning of a mark."""
        if tag_of(tag) == "si":
            self.weight = 0

    def end(self, tag: str) -> None:
        """Nothing is kept of a text."""

    def text(self, words: str) -> None:
        """Weigh what stands in it."""
        self.weight += len(words)
        check_weight(self.weight, self.limits)


class Sheet:
    """Reads one worksheet: which cells are in use, and what is hidden, merged, reckoned, failed."""

    def __init__(self, facts: SheetFacts, limits: BookLimits) -> None:
        self.facts, self.limits = facts, limits
        self.row = self.column = self.weight = 0
        self.kind = self.words = ""
        self.has_formula = self.has_value = self.is_reading = self.is_cell = False

    def start(self, tag: str, given: Mapping[str, str]) -> None:
        """Hear the beginning of a mark."""
        tag = tag_of(tag)
        if self.is_cell and (
            self.row > self.facts.last_row or self.column > self.facts.last_column
        ):
            # A cell with nothing inside is only painted, and no reader makes room for it.
            self.facts.sees(self.row, self.column, self.limits)
        if tag == "c":
            self._cell(given)
        elif tag == "row":
            self.row = whole_of(given.get("r"), self.row + 1)
            self.column = 0
            if given.get("hidden") in {"1", "true"}:
                if self.row > self.limits.workbook_rows:
                    self.facts.sees(self.row, 1, self.limits)
                self.facts.hidden_rows.add(self.row)
        elif tag in {"v", "is"}:
            # Some programs write a formula's value as an empty mark: that is none.
            self.has_value = tag == "is" or self.kind == "str"
            self.is_reading = True
            self.words, self.weight = "", 0
        elif tag == "f":
            self.has_formula, self.weight = True, 0
            self.is_reading = False
        elif tag == "col" and given.get("hidden") in {"1", "true"}:
            first, last = whole_of(given.get("min"), 1), whole_of(given.get("max"), 1)
            self.facts.hidden_columns |= set(range(first, min(last, self.limits.columns) + 1))
        elif tag == "mergeCell" and len(self.facts.merges) < MERGES:
            corners = _REF.findall(given.get("ref", ""))
            if len(corners) == 2:
                (left, top), (right, bottom) = corners
                self.facts.merges.append((int(top), column_of(left), int(bottom), column_of(right)))

    def _cell(self, given: Mapping[str, str]) -> None:
        self.kind = given.get("t", "")
        self.has_formula = self.has_value = self.is_reading = False
        self.words = ""
        if match := _REF.fullmatch(given.get("r", "")):
            self.row, self.column = int(match[2]), column_of(match[1])
        else:
            self.column += 1
        self.is_cell = True

    def end(self, tag: str) -> None:
        """Hear the end of a mark."""
        tag = tag_of(tag)
        if tag in {"v", "is"}:
            self.is_reading = False
        elif tag == "c":
            self.is_cell = False
            if self.has_formula:
                where = place(self.row, self.column)
                self.facts.formulas += 1
                if len(self.facts.formula_places) < FIRST:
                    self.facts.formula_places.append(where)
                if not self.has_value:
                    self.facts.unkept += 1
                    if len(self.facts.unkept_places) < FIRST:
                        self.facts.unkept_places.append(where)
            if self.kind == "e":
                self.facts.errors.add(self.row, self.column, self.words.strip() or "#N/A")

    def text(self, words: str) -> None:
        """Hear what stands in it."""
        self.weight += len(words)
        check_weight(self.weight, self.limits)
        if self.is_reading:
            self.has_value = True
            if self.kind == "e" and len(self.words) < 20:
                self.words += words
