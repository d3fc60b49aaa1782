"""What a change of a dictionary means for the tables that were made under the one before it."""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Verdict(StrEnum):
    """Whether what was valid stays valid, and means the same."""

    COMPATIBLE = "compatible"
    """Each table that was valid is valid still, and of the same meaning."""
    MAPPING = "needs a mapping"
    """The old values mean the same once a reviewed rule has translated them."""
    BREAKING = "breaking"
    """Tables that were valid may fail now, or lose what they said."""


class Release(StrEnum):
    """Which part of a release number a change raises."""

    NONE = "none"
    PATCH = "patch"
    MINOR = "minor"
    MAJOR = "major"


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that differs between two dictionaries.

    Parameters
    ----------
    what : str
        A whole sentence: what is other than it was, and what follows from it.
    verdict : Verdict
    release : Release
    table, field : str
        Where; the field by its new name, or its old one where it is gone. "" for what concerns
        the whole table, or the whole dictionary.
    field_id : str
        The field's permanent id, "" where it has none.
    mapping : str
        Which kind of rule would translate: "rename", "unit", "recode" or "derive"; else "".
    """

    what: str
    verdict: Verdict
    release: Release
    table: str = ""
    field: str = ""
    field_id: str = ""
    mapping: str = ""


_WORST = [Verdict.COMPATIBLE, Verdict.MAPPING, Verdict.BREAKING]
_HIGHEST = [Release.NONE, Release.PATCH, Release.MINOR, Release.MAJOR]


def worst(changes: Iterable[Change]) -> Verdict:
    """Give the verdict over all the changes; with none, all is compatible."""
    return max((one.verdict for one in changes), key=_WORST.index, default=Verdict.COMPATIBLE)


def highest(changes: Iterable[Change]) -> Release:
    """Give which part of the release number all the changes together raise."""
    return max((one.release for one in changes), key=_HIGHEST.index, default=Release.NONE)


def kept(what: str, release: Release, **place: str) -> Change:
    """Give a change that leaves what was valid as it was."""
    return Change(what, Verdict.COMPATIBLE, release, **place)


def broken(what: str, **place: str) -> Change:
    """Give a change under which what was valid may fail."""
    return Change(what, Verdict.BREAKING, Release.MAJOR, **place)


def mapped(what: str, kind: str, **place: str) -> Change:
    """Give a change that a rule of that kind can translate."""
    return Change(what, Verdict.MAPPING, Release.MAJOR, mapping=kind, **place)
