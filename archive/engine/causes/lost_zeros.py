"""Codes of figures that lost the zeros in front, as spreadsheets take them for numbers."""

import re
from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.codes_alike import CODES
from archive.engine.causes.sheet import Column, Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import PadZeros, ReplaceCells
from archive.engine.corrections.correction import Correction

FIGURES = re.compile(r"\^?(?:\\d|\[0-9\])\{([0-9]{1,2})\}\$?")
WIDEST = 20


class LostZeros:
    """Suspects leading zeros that were lost."""

    kind: ClassVar[str] = "lost-zeros"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of text with values that are off its list or its pattern."""
        for name, column in sheet.columns.items():
            fault = sheet.faults_in(name, *CODES)
            short = [value for value in fault.values if re.fullmatch("[0-9]+", value)]
            if column.type != "string" or not short:
                continue
            correction, refused = _correction(column, short)
            if correction is None and not refused:
                continue
            yield Suspicion(
                kind=self.kind,
                what=f"Codes of column “{name}” seem to have lost the zeros in front.",
                why=f"{listed(short)}: a spreadsheet takes such a code for a number.",
                remedy=(
                    f"Set the format of column “{name}” to text in the spreadsheet, write the zeros"
                    " again (007, not 7), and save it as CSV."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(fault.rows),
                count=sum(column.values.get(value, 0) for value in short),
                correction=correction,
                refused=refused,
            )


def _correction(column: Column, short: list[str]) -> tuple[Correction | None, str]:
    if column.known:
        meant = {
            value: [code for code in column.known if code.lstrip("0") == value.lstrip("0")]
            for value in short
        }
        meant = {value: codes for value, codes in meant.items() if codes}
        if any(len(codes) > 1 for codes in meant.values()):
            return None, "More than one code on the list would fit."
        words = tuple(sorted((value, codes[0]) for value, codes in meant.items()))
        return (ReplaceCells(column.name, words) if words else None), ""
    width = _width(column)
    if not width or any(len(value) >= width for value in short):
        return None, ""
    return PadZeros(column.name, width), ""


def _width(column: Column) -> int:
    """Give how many figures a code has, where the dictionary says it."""
    constraints = column.shape.get("constraints")
    if not isinstance(constraints, dict):
        return 0
    told = FIGURES.fullmatch(str(constraints.get("pattern", "")))
    if told:
        return min(int(told.group(1)), WIDEST)
    least, most = constraints.get("minLength"), constraints.get("maxLength")
    return least if isinstance(least, int) and least == most and least <= WIDEST else 0
