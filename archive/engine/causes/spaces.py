"""Spaces before or after what was written, no-break spaces included."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import count_of, listed, shown_rows
from archive.engine.corrections.cells import Trim, trimmed
from archive.engine.roles import primary_key, role_of

TRIMMED_ANYWAY = frozenset({"number", "integer", "year"})


class Spaces:
    """Suspects spaces at the ends of cells, in columns in which they count."""

    kind: ClassVar[str] = "spaces"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at the columns of dates, times, codes and keys."""
        columns: dict[str, list[str]] = {}
        key = primary_key(sheet.schema)
        for name, column in sheet.columns.items():
            if column.type in TRIMMED_ANYWAY:
                continue
            counts = column.type != "string" or role_of(column.shape) or name in key
            has_faults = any(field == name for _, field in sheet.faults)
            # Codes that are others but for a space are told by their own cause.
            codes = column.known or (column.values if role_of(column.shape) else ())
            odd = [v for v in column.values if v != trimmed(v) and trimmed(v) not in codes]
            if odd and (counts or column.known is not None or has_faults):
                columns[name] = odd
        if not columns:
            return
        cells = sum(sheet.columns[n].values[v] for n, odd in columns.items() for v in odd)
        yield Suspicion(
            kind=self.kind,
            what=(
                f"{count_of(cells, 'cell')} in {listed(columns)}"
                f" {'begins or ends' if cells == 1 else 'begin or end'} with a space."
            ),
            why=f"{listed(v for odd in columns.values() for v in odd)}: spaces count too.",
            remedy="Take the spaces before and after the words out of these cells.",
            table=sheet.table,
            columns=tuple(columns),
            rows=shown_rows([sheet.columns[n].first[v] for n, odd in columns.items() for v in odd]),
            count=cells,
            correction=Trim(tuple(columns)),
        )
