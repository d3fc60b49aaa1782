"""Two dictionaries side by side: is every table that was valid valid still, and of one meaning?

Two things are worked out, and apart: whether old tables hold (`Comparison.verdict`), and which
release number the new dictionary has (`releases`), where a column more raises the first part even
if old tables do without it.

References
----------
Data Package Standard, recipe "Data Package Version" (June 2024): what raises the first, the second
and the third part of the number. Semantic Versioning 2.0.0, items 6 to 8.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from archive.engine.roles import fields_of
from archive.extending.changes import Change, Release, Verdict, broken, highest, kept, worst
from archive.extending.fields import kind_of
from archive.extending.tables import links, table_changes

FIRST = "1.0.0"
"""The number of what is released for the first time (the recipe's second scenario)."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that differs between two dictionaries.

    Parameters
    ----------
    changes : tuple of Change
        In the order of the new dictionary's tables.
    """

    changes: tuple[Change, ...]

    @property
    def verdict(self) -> Verdict:
        """Whether every table that was valid is valid still, and of the same meaning."""
        return worst(self.changes)

    @property
    def release(self) -> Release:
        """Which part of the release number is raised."""
        return highest(self.changes)

    def verdict_of(self, table: str) -> Verdict:
        """Whether every table of that name that was valid is valid still."""
        return worst(one for one in self.changes if one.table == table)


def compare(old: Mapping[str, Any], new: Mapping[str, Any]) -> Comparison:
    """Compare a dictionary with the one before it, table by table and field by field.

    Parameters
    ----------
    old, new : mapping
        Data Package descriptors, as `archive.dictionaries.prepared` gives them; both are such
        as a reader accepts.

    Returns
    -------
    Comparison
        What is uncertain counts against compatibility.
    """
    return Comparison(tuple(_changes(old, new)))


def _changes(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    before, now = _tables(old), _tables(new)
    for name, table in now.items():
        if name in before:
            yield from table_changes(before[name], table)
        else:
            yield kept("The table is new.", Release.MINOR, table=name)
    for name in before:
        if name not in now:
            yield broken("The table is gone.", table=name)
    yield from _far_ends(before, now)
    for key in ("title", "description", "keywords"):
        if old.get(key) != new.get(key):
            yield kept(f"The dictionary’s {key} reads otherwise.", Release.PATCH)


def _tables(descriptor: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {
        str(table["name"]): table
        for table in descriptor.get("resources", ())
        if isinstance(table.get("schema"), Mapping)
    }


def _far_ends(
    before: Mapping[str, Mapping[str, Any]], now: Mapping[str, Mapping[str, Any]]
) -> Iterator[Change]:
    """Give the links whose far end is of another type than it was: equal values may differ."""
    for name, table in now.items():
        held = links(before[name]["schema"]) if name in before else []
        for here, there, far in links(table["schema"]):
            if (here, there, far) not in held:
                continue
            was, is_ = before.get(there or name), now.get(there or name)
            if was is None or is_ is None or _kinds(was, far) == _kinds(is_, far):
                continue
            what = f"{', '.join(here)} is looked for among values of another type than before."
            yield broken(what, table=name)


def _kinds(table: Mapping[str, Any], names: Sequence[str]) -> list[str]:
    kinds = {field["name"]: kind_of(field) for field in fields_of(table["schema"])}
    # A whole number equals the same number of the wider type, and a text is one of any type.
    alike = {"integer": "number", "any": "string"}
    return [alike.get(str(kinds.get(name)), str(kinds.get(name))) for name in names]


def raised(number: str, release: Release) -> str:
    """Give the release number after one.

    >>> raised("1.4.2", Release.MINOR), raised("1.4.2", Release.NONE)
    ('1.5.0', '1.4.2')
    """
    major, minor, patch = map(int, number.split("."))
    match release:
        case Release.MAJOR:
            return f"{major + 1}.0.0"
        case Release.MINOR:
            return f"{major}.{minor + 1}.0"
        case Release.PATCH:
            return f"{major}.{minor}.{patch + 1}"
        case Release.NONE:
            return number


def releases(versions: Sequence[Mapping[str, Any]]) -> list[str]:
    """Give the release number of each version of a dictionary.

    Parameters
    ----------
    versions : sequence of mapping
        Their descriptors, oldest first.
    """
    numbers: list[str] = []
    for at, version in enumerate(versions):
        if not numbers:
            numbers.append(FIRST)
        else:
            numbers.append(raised(numbers[-1], compare(versions[at - 1], version).release))
    return numbers
