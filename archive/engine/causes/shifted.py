"""Cells that stand one column beside their headings."""

import re
from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import shown_rows
from archive.engine.corrections.cells import PLAIN
from archive.engine.corrections.headings import DropNumbers

MOST = 0.9
FORMS = {
    "integer": re.compile("[+-]?[0-9]+"),
    "number": PLAIN,
    "date": re.compile("[0-9]{1,4}[-/.][0-9]{1,2}[-/.][0-9]{1,4}"),
    "datetime": re.compile(".*[0-9]:[0-9].*"),
    "boolean": re.compile("true|false|yes|no|0|1", re.IGNORECASE),
}
"""How the cells of some kinds look, roughly."""


class Shifted:
    """Suspects a heading that is one cell too short or too long for its rows."""

    kind: ClassVar[str] = "shifted-heading"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Compare the width of the heading with that of the rows."""
        rows = [(number, cells) for number, cells in sheet.head if any(cells)]
        if not rows or len(sheet.labels) < 2:
            return
        whole = sum(sheet.widths.values()) - sheet.blank_count
        wider = sheet.widths[len(sheet.labels) + 1] >= MOST * max(whole, 1)
        counts = _counts([cells[0].strip() for _, cells in rows])
        has_label = sheet.labels[0] == ""
        if counts and (has_label or (wider and _fits_beside(sheet, [cells for _, cells in rows]))):
            yield self._said(
                sheet,
                "The first column only counts the rows, and has no heading.",
                "Every row begins with a running number that the dictionary does not know; some"
                " programs write it beside a table.",
                "Take the first column out, and leave everything else as it is.",
                DropNumbers(has_label=has_label),
            )
        elif wider or sheet.widths[len(sheet.labels) - 1] >= MOST * max(whole, 1):
            more = "more" if wider else "less"
            yield self._said(
                sheet,
                "The cells stand one column beside their headings.",
                f"Nearly every row has one cell {more} than the heading has.",
                "See where the heading has one name too few or too many, or whether each row ends"
                " with a separator too many, and put the names over their own columns.",
                None,
            )

    def _said(
        self, sheet: Sheet, what: str, why: str, remedy: str, correction: DropNumbers | None
    ) -> Suspicion:
        return Suspicion(
            kind=self.kind,
            what=what,
            why=why,
            remedy=remedy,
            table=sheet.table,
            rows=shown_rows([number for number, _ in sheet.head[:3]]),
            count=sheet.rows,
            correction=correction,
            refused="" if correction else "Which name is missing can only be seen in your notes.",
        )


def _counts(first: list[str]) -> bool:
    if not all(cell.isdecimal() for cell in first):
        return False
    numbers = [int(cell) for cell in first]
    return numbers[0] in {0, 1} and numbers == list(range(numbers[0], numbers[0] + len(numbers)))


def _fits_beside(sheet: Sheet, rows: Sequence[Sequence[str]]) -> bool:
    """Whether cells one place to the right are of the columns' kinds, and those in place are not.

    A row with a separator too many at its end is as wide as one with a number too many in front.
    """
    kinds = [
        FORMS.get(sheet.columns[label].type) if label in sheet.columns else None
        for label in sheet.labels
    ]
    here, beside = (
        sum(
            bool(kind and cell.strip() and not kind.fullmatch(cell.strip()))
            for cells in rows
            for kind, cell in zip(kinds, cells[start:], strict=False)
        )
        for start in (0, 1)
    )
    return beside < here
