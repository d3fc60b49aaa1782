"""Rows that are no data: totals and notes at the foot, repeated headings, blank rows."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import count_of, shown_rows
from archive.engine.corrections.lines import DropBlankRows, DropHeadings, DropRow

TOTALS = frozenset(
    {
        *("total", "totals", "grand total", "sum", "sums", "count", "n ="),
        *("mean", "means", "average", "averages", "median", "min", "max"),
        *("sd", "se", "stdev", "std dev"),
    }
)


class TotalRow:
    """Suspects a row of totals, or a note, at the foot of the table."""

    kind: ClassVar[str] = "total-row"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at the last rows, from the last one up, as long as they are such."""
        for number, cells in reversed(sheet.tail):
            if number not in sheet.faulty_rows:
                return
            filled = [cell.strip() for cell in cells if cell.strip()]
            is_total = any(cell.rstrip(":").casefold() in TOTALS for cell in filled)
            is_note = len(filled) == 1 and " " in filled[0] and len(sheet.labels) > 2
            if not is_total and not is_note:
                return
            yield Suspicion(
                kind=self.kind,
                what=(
                    f"Row {number:,} at the foot seems to hold "
                    f"{'totals' if is_total else 'a note'}, not data."
                ),
                why=f"It says “{', '.join(filled)[:80]}”.",
                remedy=(
                    f"Take row {number:,} out of the table. Sums are worked out again when they are"
                    " needed; a note belongs into the deposit's note."
                ),
                table=sheet.table,
                rows=(number,),
                count=1,
                correction=DropRow(number, tuple(cells)),
            )


class RepeatedHeading:
    """Suspects the heading in the middle of the table, as where two tables were joined."""

    kind: ClassVar[str] = "repeated-heading"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look for rows that repeat the heading."""
        if sheet.repeats:
            yield Suspicion(
                kind=self.kind,
                what="The heading stands again in the middle of the table.",
                why=f"{count_of(sheet.repeat_count, 'row')}"
                f" {'repeats' if sheet.repeat_count == 1 else 'repeat'} the names of the columns,"
                " as when several tables are put under each other.",
                remedy="Take these rows out: the heading stands once, in the first row.",
                table=sheet.table,
                rows=shown_rows(sheet.repeats),
                count=sheet.repeat_count,
                correction=DropHeadings(),
            )


class BlankRows:
    """Suspects blank rows, mostly at the foot."""

    kind: ClassVar[str] = "blank-rows"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look for rows in which nothing stands."""
        if sheet.blank and sheet.has("blank-row"):
            yield Suspicion(
                kind=self.kind,
                what=(
                    f"{count_of(sheet.blank_count, 'row')} of the table"
                    f" {'is' if sheet.blank_count == 1 else 'are'} blank."
                ),
                why="Nothing stands in any of their cells.",
                remedy="Delete the blank rows, those under the table included.",
                table=sheet.table,
                rows=shown_rows(sheet.blank),
                count=sheet.blank_count,
                correction=DropBlankRows(),
            )
