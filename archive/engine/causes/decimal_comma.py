"""Numbers with a comma for decimals."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.numerals import odd_numerals, style_of
from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import PlainNumbers


class DecimalComma:
    """Suspects a decimal comma in a column of numbers."""

    kind: ClassVar[str] = "decimal-comma"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of numbers that has a value of the wrong kind."""
        for name, column in sheet.columns.items():
            odd = odd_numerals(sheet, column)
            style = style_of(odd) if odd else None
            if style is None or style.decimal != ",":
                continue
            refused = style.why
            if column.type == "integer" and not style.group and not refused:
                refused = "The column holds whole numbers; what stands after the comma would go."
            yield Suspicion(
                kind=self.kind,
                what=f"Column “{name}” seems to be written with a decimal comma.",
                why=f"{listed(odd)}: the comma stands where a point is expected.",
                remedy=(
                    f"Write the numbers of column “{name}” with a point: 1.5, not 1,5. In a"
                    " spreadsheet, change the decimal sign in its settings, then save as CSV."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(sheet.fault("type-error", name).rows),
                count=sum(column.values[value] for value in odd),
                correction=None if refused else PlainNumbers(name, ",", style.group),
                refused=refused,
            )
