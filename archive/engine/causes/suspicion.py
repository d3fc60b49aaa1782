"""What a cause says: what seems to have happened, why it seems so, and what would mend it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

from archive.engine.causes.sheet import Sheet
from archive.engine.corrections import Correction, Trial


@dataclass(frozen=True, slots=True)
class Suspicion:
    """One thing that seems to have gone wrong in a whole column, file or row.

    Parameters
    ----------
    kind : str
        Name of the cause.
    what, why : str
        What seems to have happened, and what it was seen by, in plain words.
    remedy : str
        What a person does about it by hand.
    table : str
    columns : tuple of str
        Names of the columns; empty where it is the file or a row.
    rows : tuple of int
        The first rows by which it was seen.
    count : int
        How many cells or rows were seen so.
    correction : Correction or None
        What would mend it without guessing; None where something must be looked up.
    refused : str
        Why there is no correction; "" where there is one or none could be.
    trial : Trial or None
        What the correction would do to the whole file.
    """

    kind: str
    what: str
    why: str
    remedy: str
    table: str
    columns: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    count: int = 0
    correction: Correction | None = None
    refused: str = ""
    trial: Trial | None = None

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        return {
            "kind": self.kind,
            "what": self.what,
            "why": self.why,
            "remedy": self.remedy,
            "table": self.table,
            "columns": list(self.columns),
            "rows": list(self.rows),
            "count": self.count,
            "correction": self.correction.as_dict() if self.correction else None,
            "refused": self.refused,
            "trial": self.trial.as_dict() if self.trial else None,
        }


class Cause(Protocol):
    """Looks at a table's findings and columns for one thing that often goes wrong."""

    kind: ClassVar[str]

    def look(self, sheet: Sheet, beside: Sequence[Sheet]) -> Iterator[Suspicion]:
        """Say what is suspected of a table; `beside` are all tables of the package."""
        ...
