"""Numbers with a sign between their thousands."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.numerals import odd_numerals, style_of
from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import PlainNumbers

SAID = {",": "a comma", "'": "an apostrophe", "’": "an apostrophe"}


class Thousands:
    """Suspects signs between thousands in a column of numbers."""

    kind: ClassVar[str] = "thousands"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of numbers that has a value of the wrong kind."""
        for name, column in sheet.columns.items():
            odd = odd_numerals(sheet, column)
            style = style_of(odd) if odd else None
            if style is None or style.decimal != ".":
                continue
            yield Suspicion(
                kind=self.kind,
                what=(
                    f"Column “{name}” seems to have {SAID.get(style.group, 'a space')} between"
                    " thousands."
                ),
                why=f"{listed(odd)}: the figures after it stand in threes.",
                remedy=(
                    f"Write the numbers of column “{name}” without a sign between thousands: 12500,"
                    " not 12,500 or 12 500."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(sheet.fault("type-error", name).rows),
                count=sum(column.values[value] for value in odd),
                correction=None if style.why else PlainNumbers(name, ".", style.group),
                refused=style.why,
            )
