"""Words for “nothing was measured” that the dictionary does not know."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Column, Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import SPACES, ReplaceCells
from archive.engine.roles import primary_key

WORDS = frozenset(
    "n/a na #n/a nan nil none null missing unknown - – — -- . .. ? ?? x empty n.a. n.d. nd"
    " not measured|not recorded|no data|#null!|#value!".replace("|", " ").split(" ")
) | {"not measured", "not recorded", "no data", "not available", "#value!", "#div/0!", "#ref!"}
STAND_INS = frozenset({"-9", "-99", "-999", "-9999", "999", "9999", "99999"})


class MissingWords:
    """Suspects words that stand for an empty cell."""

    kind: ClassVar[str] = "missing-words"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column that has values of the wrong kind or off the list."""
        for name, column in sheet.columns.items():
            fault = sheet.faults_in(name, "type-error", "constraint-error", "category-error")
            words = [v for v in fault.values if v.strip(SPACES).casefold() in WORDS]
            stand_ins = [v for v in fault.values if v.strip(SPACES) in STAND_INS]
            if not words and not stand_ins:
                continue
            found = words or stand_ins
            refused = _refusal(sheet, column, is_number=not words)
            empty = "" if "" in column.missing else min(column.missing, default="")
            yield Suspicion(
                kind=self.kind,
                what=f"In column “{name}”, {listed(found)} seems to mean “not measured”.",
                why="The dictionary does not know it as a word for an empty cell.",
                remedy=(
                    f"Leave the cells of column “{name}” empty where nothing was measured, or ask"
                    " your supervisor to list the word under “missingValues” in the dictionary."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(fault.rows),
                count=sum(column.values.get(value, 0) for value in found),
                correction=(
                    None
                    if refused
                    else ReplaceCells(name, tuple((word, empty) for word in sorted(words)))
                ),
                refused=refused,
            )


def _refusal(sheet: Sheet, column: Column, *, is_number: bool) -> str:
    if is_number:
        return "A number may have been measured; only your notes can tell."
    if column.is_required or column.name in primary_key(sheet.schema):
        return "The column may not be empty: the value must be found in your notes."
    if not column.missing:
        return "The dictionary has no word for an empty cell."
    return ""
