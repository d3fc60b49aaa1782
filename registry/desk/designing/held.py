"""The spread that an earlier cohort left: columns of a held version, and what they say."""

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from io import TextIOWrapper
from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from archive.columnar import copy_of, tables_in, typed_columns
from archive.engine.reading import reader_options
from archive.engine.roles import FieldRole, fields_of, role_of
from archive.models import Version
from archive.places import store
from archive.serving import layout_of
from registry import design
from registry.errors import Unsound
from registry.faults import CHOOSE
from registry.permissions import Verb, allowed

MOST_ROWS = 50_000
"""Rows that are read: far more than a spread needs, and soon done."""
_NUMBERS = frozenset({"number", "integer"})


def versions_for(person: Any) -> QuerySet[Version]:
    """Give the versions whose files a person may read, newest first."""
    seen = allowed(Version.objects.all(), person, Verb.VERSION_READ)
    return seen.select_related("dataset").order_by("-pk")


@dataclass(frozen=True)
class Column:
    """One column of a table of a version."""

    path: str
    name: str
    said: str
    is_number: bool
    role: FieldRole | None

    @property
    def key(self) -> str:
        """How a form names it."""
        return f"{self.path}#{self.name}"


def columns_of(version: Version) -> list[Column]:
    """Give every column that the version's descriptor describes."""
    resources = version.descriptor.get("resources", [])
    return [
        Column(
            path=resource["path"],
            name=field["name"],
            said=f"{field['name']} ({resource.get('name', resource['path'])})",
            is_number=field.get("type") in _NUMBERS,
            role=role_of(field),
        )
        for resource in resources
        for field in fields_of(resource.get("schema", {}))
        if resource.get("path") in version.manifest
    ]


class VersionField(forms.ModelChoiceField):  # type: ignore[type-arg]  # why: its stubs take no argument at run time
    """Choose a version, by the name of its dataset and its number."""

    def label_from_instance(self, obj: Any) -> str:
        """Write a version."""
        return f"{obj.dataset}, {_('version')} {obj.number}"


class SpreadForm(forms.Form):
    """Which version, and which columns: the outcome, the unit, the treatment."""

    keeps_no_draft = True
    _asks: ClassVar[tuple[tuple[str, Any, Any], ...]] = (
        ("outcome", _("Outcome"), (FieldRole.OUTCOME,)),
        ("unit", _("Tank or animal"), (FieldRole.UNIT, FieldRole.ANIMAL)),
        ("arm", _("Treatment, to be taken out"), (FieldRole.TREATMENT,)),
    )

    version = VersionField(
        label=_("Held version"), queryset=Version.objects.none(), empty_label=CHOOSE
    )

    def __init__(self, given: Any, *, person: Any) -> None:
        super().__init__(given or None)
        field: Any = self.fields["version"]
        field.queryset = versions_for(person)
        chosen = given.get("version", "")
        version = field.queryset.filter(pk=chosen).first() if chosen.isdecimal() else None
        if version is None:
            return
        columns = columns_of(version)
        for name, label, roles in self._asks:
            offered = [one for one in columns if one.is_number or name != "outcome"]
            choices: list[tuple[str, Any]] = [(one.key, one.said) for one in offered]
            likely = [one.key for role in roles for one in offered if one.role is role]
            if name == "arm":
                choices = [("", _("none")), *choices]
            self.fields[name] = forms.ChoiceField(
                label=label, choices=choices, initial=(likely or [""])[0], required=name != "arm"
            )

    @property
    def is_whole(self) -> bool:
        """Whether the columns were asked and given."""
        return "outcome" in self.fields and "outcome" in self.data and self.is_valid()


@dataclass(frozen=True)
class Left:
    """What an earlier cohort left: the estimate, and whether the table was read to its end."""

    estimate: Any
    identifier: str
    is_cut: bool


def left_by(form: SpreadForm) -> Left:
    """Estimate the spread that a filled form asks for.

    Raises
    ------
    Unsound
        Where the columns are of different tables, or say nothing of a spread.
    """
    given = form.cleaned_data
    version: Version = given["version"]
    keys = [given["outcome"], given["unit"], *filter(None, [given.get("arm")])]
    paths = {key.rpartition("#")[0] for key in keys}
    if len(paths) > 1:
        raise Unsound(
            "The columns are of different tables.",
            "A value, its tank and its treatment stand in one row.",
            "Choose columns of one table.",
            fields={"unit": "Choose a column of the same table as the outcome."},
        )
    names = [key.rpartition("#")[2] for key in keys]
    columns = _read(version, paths.pop(), names)
    values, units, *arms = (one[:MOST_ROWS] for one in columns)
    found = design.estimate(
        values, units, arms=arms[0] if arms else None, source=version.identifier
    )
    return Left(found, version.identifier, len(columns[0]) > MOST_ROWS)


def _read(version: Version, path: str, names: list[str]) -> list[list[Any]]:
    """Give some columns, to one row past the most: from the typed copy, or from the table."""
    resource = next(one for one in tables_in(version) if one["path"] == path)
    typed = typed_columns(copy_of(version, resource), names, MOST_ROWS + 1)
    if typed is not None:
        return typed
    rows = list(_rows(version, path, names))
    values, *others = ([row[at] for row in rows] for at in range(len(names)))
    return [[_number(one) for one in values], *([one.strip() for one in other] for other in others)]


def _rows(version: Version, path: str, names: list[str]) -> Iterator[list[str]]:
    """Read the cells of some columns, to one row past the most."""
    layout = layout_of(version, path)
    if path.endswith(".tsv"):
        layout.setdefault("delimiter", "\t")
    with store().open_file(version.identifier, path) as opened:
        lines = TextIOWrapper(opened, encoding="utf-8-sig", errors="replace", newline="")
        reader = csv.reader(lines, **reader_options(layout))
        heading = [cell.strip() for cell in next(reader, [])]
        try:
            places = [heading.index(name) for name in names]
        except ValueError:
            raise Unsound(
                "A column is not in the table.",
                said("The table begins with: %(heading)s.") % {"heading": ", ".join(heading)[:200]},
                "Choose another column.",
            ) from None
        for count, row in enumerate(reader):
            if count > MOST_ROWS:
                return
            if len(row) > max(places):
                yield [row[place] for place in places]


def _number(cell: str) -> float | None:
    try:
        return float(cell.replace(",", ".") if "." not in cell else cell)
    except ValueError:
        return None
