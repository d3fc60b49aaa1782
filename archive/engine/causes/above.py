"""What stands between a file's first row and its data: titles above the heading, units under it."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.units import spellings
from archive.engine.causes.wording import count_of, listed, shown_rows
from archive.engine.corrections.lines import DropAbove, DropRow


class RowsAbove:
    """Suspects titles, or the upper of two rows of headings, above the heading."""

    kind: ClassVar[str] = "rows-above"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look for a row further down that is just the dictionary's heading."""
        names = set(sheet.names)
        if set(sheet.labels) == names or len(names) < 2:
            return
        for number, cells in sheet.head:
            labels = [cell.strip() for cell in cells]
            if set(labels) != names or len(labels) != len(names):
                continue
            above = number - 1
            yield Suspicion(
                kind=self.kind,
                what=(
                    f"{count_of(above, 'row')} {'stands' if above == 1 else 'stand'} above the"
                    " heading."
                ),
                why=f"Row {number:,} names just the columns of the dictionary.",
                remedy=(
                    f"Take out the {count_of(above, 'row')} above the heading, so that the file"
                    " begins with the names of the columns. A title belongs into the deposit's"
                    " note."
                ),
                table=sheet.table,
                count=above,
                correction=DropAbove(above, labels[0]),
            )
            return


class UnitRow:
    """Suspects a row of units under the heading."""

    kind: ClassVar[str] = "unit-row"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look whether the first row under the heading holds units and nothing else."""
        if not sheet.head or sheet.head[0][0] != 2:
            return
        number, cells = sheet.head[0]
        pairs = list(zip(sheet.labels, (cell.strip(" ()[]") for cell in cells), strict=False))
        units = [cell for _, cell in pairs if cell]
        if not units or not all(
            label in sheet.columns and cell in spellings(sheet.columns[label].shape)
            for label, cell in pairs
            if cell
        ):
            return
        yield Suspicion(
            kind=self.kind,
            what="The row under the heading holds units, not data.",
            why=f"{listed(units)}: the dictionary says the unit of each column.",
            remedy=f"Take row {number} out of the table.",
            table=sheet.table,
            rows=(number,),
            count=1,
            correction=DropRow(number, tuple(cells)),
        )


class NoHeading:
    """Suspects a file whose first row is data."""

    kind: ClassVar[str] = "no-heading"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look whether the first row is as wide as the heading should be, and looks like data."""
        if len(sheet.labels) != len(sheet.names) or set(sheet.labels) & set(sheet.names):
            return
        if not any(label.replace(".", "").replace("-", "").isdecimal() for label in sheet.labels):
            return
        yield Suspicion(
            kind=self.kind,
            what="The file seems to have no heading: its first row looks like data.",
            why=f"It begins with {listed(sheet.labels)}, and has as many cells as the dictionary.",
            remedy=(
                "Put a row above the data that names the columns: "
                f"{', '.join(sheet.names)}, each above its own column."
            ),
            table=sheet.table,
            rows=shown_rows([1]),
            count=1,
            refused="Which name belongs to which column can only be seen in your notes.",
        )
