"""Numbers with their unit in the cell."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

from archive.engine.causes.sheet import Sheet
from archive.engine.causes.suspicion import Suspicion
from archive.engine.causes.wording import listed, shown_rows
from archive.engine.corrections.cells import StripUnit, apart
from archive.engine.roles import UNIT

WRITTEN = {
    "Cel": ("°C", "C", "℃", "degC", "deg"),
    "%": ("percent", "pct"),
    "um": ("µm", "μm"),
    "L": ("l", "litres", "litre"),
    "mL": ("ml",),
    "L/min": ("l/min", "lpm"),
    "s": ("sec", "secs", "seconds", "second"),
    "min": ("mins", "minutes", "minute"),
    "h": ("hr", "hrs", "hours", "hour"),
    "d": ("days", "day"),
    "m": ("metres", "metre"),
    "g": ("grams", "gram", "gr"),
    "kg": ("kilos", "kilo"),
    "lx": ("lux",),
    "[pH]": ("pH",),
    "1": ("x",),
}
"""How people write the units whose UCUM code they do not know; common practice, no source."""


class UnitInCell:
    """Suspects a unit that was written into the cells."""

    kind: ClassVar[str] = "unit-in-cell"

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Look at each column of numbers that has a value of the wrong kind."""
        for name, column in sheet.columns.items():
            fault = sheet.fault("type-error", name)
            if column.type not in {"number", "integer"} or not fault.count:
                continue
            told = {value: two for value in column.filled() if (two := apart(value))}
            if not told:
                continue
            units = Counter(unit for _, unit in told.values())
            wanted, known = str(column.shape.get(UNIT, "")), spellings(column.shape)
            yield Suspicion(
                kind=self.kind,
                what=f"Column “{name}” has the unit in its cells.",
                why=f"{listed(told)}: a number column holds the number alone.",
                remedy=(
                    f"Take the unit out of each cell of column “{name}”, so that only the number"
                    f" stands there, in {wanted or 'the unit of the dictionary'}."
                ),
                table=sheet.table,
                columns=(name,),
                rows=shown_rows(fault.rows),
                count=sum(column.values[value] for value in told),
                correction=None if units.keys() - set(known) else StripUnit(name, known),
                refused=_refusal(set(units), wanted, known),
            )


def spellings(shape: Mapping[str, Any]) -> tuple[str, ...]:
    """Give how a column's unit may be written, its UCUM code first; nothing where it has none."""
    wanted = str(shape.get(UNIT, ""))
    return (wanted, *WRITTEN.get(wanted, ())) if wanted else ()


def _refusal(units: set[str], wanted: str, known: tuple[str, ...]) -> str:
    if not wanted:
        return "The dictionary says no unit for this column, so that nobody can compare it."
    if other := sorted(units - set(known)):
        return (
            f"The dictionary asks for {wanted}, and {listed(other)} is something else. Nothing is"
            " converted unseen."
        )
    return ""
