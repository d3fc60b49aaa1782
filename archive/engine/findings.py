"""What a check says: one finding is one thing wrong, where it stands, and what to do about it."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Verdict(StrEnum):
    """The judgement of a whole package; a check that crashed or was cut short is never valid."""

    VALID = "valid"
    INVALID = "invalid"
    NOT_CHECKED = "not checked"


class Group(StrEnum):
    """What a finding asks of its reader.

    TABLE must be put right: it blocks acceptance. REGISTER must be explained: it opens a breach and
    never blocks, for the data say what happened. UNUSUAL is only to read.
    """

    TABLE = "table"
    REGISTER = "register"
    UNUSUAL = "unusual"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found, with its place and its remedy.

    Parameters
    ----------
    code : str
        A name of ``archive.engine.codes.CODES``.
    table : str
        Name of the table, or "" for the package as a whole.
    row : int or None
        Record number in the file; the header is row 1, blank lines count, line breaks inside a
        quoted cell do not.
    field : str
        Name of the column, or "".
    value : str
        The cell as it was written, cut to `VALUE_LENGTH` characters.
    message, remedy : str
        What is wrong, and what to do, in plain words.
    group : Group
        What the finding asks of its reader.
    """

    code: str
    table: str
    row: int | None
    field: str
    value: str
    message: str
    remedy: str
    group: Group

    def as_dict(self) -> dict[str, Any]:
        """Give the finding as plain values, ready for JSON."""
        # By hand: `asdict` takes as long as all the rest of a finding.
        return {
            "code": self.code,
            "table": self.table,
            "row": self.row,
            "field": self.field,
            "value": self.value,
            "message": self.message,
            "remedy": self.remedy,
            "group": self.group.value,
        }

    @classmethod
    def from_dict(cls, shape: dict[str, Any]) -> "Finding":
        """Read back what `as_dict` gave."""
        return cls(**(shape | {"group": Group(shape["group"])}))


VALUE_LENGTH = 200


def shorten(value: object) -> str:
    """Cut a cell to what a report can show; the cut is marked.

    >>> shorten("CE-07")
    'CE-07'
    """
    text = "" if value is None else str(value)
    return text if len(text) <= VALUE_LENGTH else f"{text[: VALUE_LENGTH - 1]}…"
