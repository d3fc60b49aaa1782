"""Two tables that bear each other's name."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.corrections.files import SwapFiles


class SwappedTables:
    """Suspects that two files were named the wrong way round."""

    kind: ClassVar[str] = "swapped-tables"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Hold the headings of each table against the others' columns."""
        for other in beside:
            if other.table <= sheet.table or set(sheet.labels) == set(sheet.names):
                continue
            if set(sheet.labels) != set(other.names) or set(other.labels) != set(sheet.names):
                continue
            yield Suspicion(
                kind=self.kind,
                what=f"The files of “{sheet.table}” and “{other.table}” seem to be swapped.",
                why=f"{sheet.where} has the columns of “{other.table}”, and {other.where} those of"
                f" “{sheet.table}”.",
                remedy=f"Give {sheet.where} and {other.where} each other's name.",
                table=sheet.table,
                count=2,
                correction=SwapFiles(other.table),
            )
