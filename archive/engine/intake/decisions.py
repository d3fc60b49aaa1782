"""What is proposed: each decision with its alternatives, what is told beside it, and a preview."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from registry.errors import Unsound

LEAVE = "leave out"
OWN = "own name"
STANDS = "as it stands"
FIELD = "field "
"""Before a field's name in the choice of a column, so that no field can be named like a choice."""


def several(count: int, one: str, many: str = "") -> str:
    """Say how many there are of something.

    >>> several(1, "row"), several(2000, "row"), several(2, "cell is", "cells are")
    ('1 row', '2,000 rows', '2 cells are')
    """
    return f"{count:,} {one if count == 1 else many or f'{one}s'}"


@dataclass(frozen=True, slots=True)
class Option:
    """One way to decide: what is sent, what is shown, and what speaks for or against it."""

    value: str
    label: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A proposal for one decision before answers and last time's choice are heard."""

    question: str
    chosen: str
    reason: str
    confidence: float
    options: tuple[Option, ...]
    rejects_last: bool = False


@dataclass(frozen=True, slots=True)
class Decision:
    """One thing to decide.

    Parameters
    ----------
    key : str
        Its name, such as "encoding" or "column:2".
    question : str
        What is asked.
    chosen : str
        The value of the option that is proposed; empty where the person must say.
    reason : str
        Why that one, in words.
    confidence : float
        How sure the proposal is, 0 to 1. It is a score for sorting, no probability.
    options : tuple of Option
        All ways, the proposed one among them.
    """

    key: str
    question: str
    chosen: str
    reason: str
    confidence: float
    options: tuple[Option, ...]

    @property
    def is_asked(self) -> bool:
        """Whether the person must say, since nothing in the file does."""
        return not self.chosen

    @property
    def values(self) -> tuple[str, ...]:
        """The values that may be chosen."""
        return tuple(option.value for option in self.options)

    @property
    def is_about_a_column(self) -> bool:
        """Whether it is about one column, so that it follows from where the header stands."""
        return ":" in self.key


@dataclass(frozen=True, slots=True)
class Notice:
    """What was seen and is told: in words, how often, and the first places."""

    code: str
    said: str
    count: int = 1
    places: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Proposal:
    """What would be done with a file.

    Parameters
    ----------
    name, sha256 : str
        The file's name and digest, in lower-case hexadecimal.
    kind : str
        "text" or "workbook".
    table : str
        The dictionary's table that it is to become.
    decisions : tuple of Decision
        In the order in which they are taken.
    notices : tuple of Notice
        What was seen besides.
    changes : tuple of str
        What no longer fits the recipe of last time, in words.
    labels : tuple of str
        The column headings as they were read.
    frame : dict
        What a recipe needs and nobody decides: the schema's side of each column.
    before, after : tuple
        The first rows as they came, each with its line or row number first, and as they would be.
    is_canonical : bool
        Whether the file is a plain UTF-8 CSV of the dictionary's columns already.
    """

    name: str
    sha256: str
    kind: str
    table: str
    decisions: tuple[Decision, ...]
    notices: tuple[Notice, ...]
    changes: tuple[str, ...]
    labels: tuple[str, ...]
    frame: Mapping[str, Any]
    before: tuple[tuple[str, ...], ...]
    after: tuple[tuple[str, ...], ...]
    is_canonical: bool

    def decision(self, key: str) -> Decision:
        """Give one decision by its key.

        Raises
        ------
        KeyError
            When there is none of that name.
        """
        for decision in self.decisions:
            if decision.key == key:
                return decision
        raise KeyError(key)

    @property
    def asked(self) -> tuple[Decision, ...]:
        """What the person must say before anything can be made of the file."""
        return tuple(decision for decision in self.decisions if decision.is_asked)

    def chosen(self, answers: Mapping[str, str] | None = None) -> dict[str, str]:
        """Give the choice for each decision, by the answers where there are any.

        Raises
        ------
        Unsound
            When something asked was not answered, or an answer is none of the options.
        """
        answers = answers or {}
        given: dict[str, str] = {}
        faults: dict[str, str] = {}
        for decision in self.decisions:
            value = answers.get(decision.key) or decision.chosen
            if value not in decision.values:
                faults[decision.key] = (
                    f"“{value}” is not among the choices." if value else "Choose one."
                )
            given[decision.key] = value
        if faults:
            first = next(iter(faults))
            raise Unsound(
                "The file was not converted.",
                f"{self.decision(first).question} {faults[first]}",
                "Choose, look at the preview, and confirm again.",
                fields=faults,
            )
        return given

    def as_dict(self) -> dict[str, Any]:
        """Give it as plain values, ready for JSON."""
        shape = asdict(self)
        for decision, told in zip(self.decisions, shape["decisions"], strict=True):
            told["is_asked"] = decision.is_asked
        return shape

    @classmethod
    def from_dict(cls, shape: Mapping[str, Any]) -> "Proposal":
        """Read back what `as_dict` gave."""
        given = dict(shape)
        given["decisions"] = tuple(_decision(one) for one in shape["decisions"])
        given["notices"] = tuple(
            Notice(one["code"], one["said"], one["count"], tuple(one["places"]))
            for one in shape["notices"]
        )
        for name in ("changes", "labels"):
            given[name] = tuple(shape[name])
        for name in ("before", "after"):
            given[name] = tuple(tuple(row) for row in shape[name])
        return cls(**given)


def _decision(shape: Mapping[str, Any]) -> Decision:
    options: Sequence[Mapping[str, Any]] = shape["options"]
    return Decision(
        shape["key"],
        shape["question"],
        shape["chosen"],
        shape["reason"],
        shape["confidence"],
        tuple(Option(one["value"], one["label"], one["note"]) for one in options),
    )
