"""Columns that an analysis needs, and an analysis as a list of them. No numbers are loaded."""

from dataclasses import dataclass

from archive.engine.roles import FieldRole

NUMBERS = frozenset({"integer", "number"})
DAYS = frozenset({"date", "datetime"})
MOMENTS = frozenset({"datetime", *NUMBERS})
"""Moments, or seconds since the beginning of the session."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A column that an analysis needs, or may use.

    Parameters
    ----------
    name : str
    roles : tuple of FieldRole
        Roles of the columns that are proposed, the likeliest first.
    types : frozenset of str
        Table Schema types that it takes; empty takes any.
    is_needed : bool, default True
    """

    name: str
    roles: tuple[FieldRole, ...]
    types: frozenset[str] = frozenset()
    is_needed: bool = True


@dataclass(frozen=True, slots=True)
class Kind:
    """An analysis that can be asked.

    Parameters
    ----------
    name : str
        As its address has it.
    slots : tuple of Slot
    options : tuple of str
        Names of what else may be said.
    """

    name: str
    slots: tuple[Slot, ...]
    options: tuple[str, ...] = ()
