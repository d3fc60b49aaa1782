"""Cells that are parted by another sign than the dictionary says."""

import csv
from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import folded
from archive.engine.corrections.files import Redelimit

SIGNS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


class WrongDelimiter:
    """Suspects a semicolon, a tab or a bar between the cells."""

    kind: ClassVar[str] = "wrong-delimiter"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Part the heading at each of the usual signs."""
        names = {folded(name) for name in sheet.names}
        if set(sheet.labels) & set(sheet.names) and len(names) > 1:
            return
        declared = str(sheet.layout.get("delimiter", ","))
        heading = declared.join(sheet.labels)
        for sign, said in SIGNS.items():
            if sign == declared or sign not in heading:
                continue
            parted = {folded(label) for label in next(csv.reader([heading], delimiter=sign), [])}
            if parted != names:
                continue
            yield Suspicion(
                kind=self.kind,
                what=f"The cells are parted by {said}, not by {SIGNS.get(declared, declared)}.",
                why=f"Parted at {said}, the first row gives just the columns of the dictionary.",
                remedy=(
                    f"Save the table as CSV with {SIGNS.get(declared, declared)} between the cells"
                    " (“CSV UTF-8, comma separated”)."
                ),
                table=sheet.table,
                rows=(1,),
                count=sheet.rows,
                correction=Redelimit(sign),
            )
