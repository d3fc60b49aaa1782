"""What pages show of a dictionary, a check and a version: rows of fields, first rows, sizes."""

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from archive.dictionaries import tables_of
from archive.engine.codes import CODES
from archive.engine.reading import reader_options
from archive.engine.roles import ETHOGRAM, FIELD_ID, PLAUSIBLE, ROLE, UNIT, fields_of
from archive.models import Version
from archive.places import store
from archive.serving import layout_of
from archive.sketches import spark, spread_said, steps
from registry.saying import number_said

FIRST_ROWS = 8
MOST_COLUMNS = 20
UNUSUAL = "unusual-value"
_READ_BYTES = 1 << 16
WORDS = {
    "string": "text",
    "integer": "whole number",
    "number": "number",
    "boolean": "true or false",
    "date": "date",
    "datetime": "date and time",
    "time": "time of day",
    "year": "year",
    "yearmonth": "month of a year",
    "duration": "length of time",
    "any": "anything",
}


@dataclass(frozen=True)
class Field:
    """One row of the dictionary's table."""

    name: str
    title: str
    type: str
    unit: str
    role: str
    meaning: str
    id: str
    rules: tuple[str, ...]
    ethogram: tuple[Mapping[str, Any], ...] = ()
    filled: str = ""
    spread: str = ""
    spark: str = ""
    steps: tuple[tuple[str, int], ...] = ()
    found: tuple[str, ...] = ()
    unusual: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class Table:
    """One table of the dictionary, with its fields."""

    name: str
    title: str
    description: str
    fields: tuple[Field, ...]
    rows: int | None = None
    path: str = ""
    bytes: int | None = None

    @property
    def has_spread(self) -> bool:
        """Whether data are behind it."""
        return self.rows is not None

    @property
    def rows_said(self) -> str:
        """How many rows it has, in words."""
        if self.rows is None:
            return f"{len(self.fields)} columns"
        return f"{number_said(self.rows)} {'row' if self.rows == 1 else 'rows'}"

    @property
    def ethograms(self) -> list[Field]:
        """The fields that hold codes of behaviour."""
        return [field for field in self.fields if field.ethogram]


def tables(descriptor: Mapping[str, Any], summary: Mapping[str, Any] | None = None) -> list[Table]:
    """Give the tables of a descriptor; with a check's summary, how full they are and how spread."""
    checked = {one["name"]: one for one in (summary or {}).get("tables", [])}
    said = _said_of_columns(summary or {})
    return [_table(table, checked.get(table["name"]), said) for table in tables_of(descriptor)]


type Said = Mapping[tuple[str, str], list[Mapping[str, Any]]]


def _said_of_columns(summary: Mapping[str, Any]) -> Said:
    """Give the entries of a report by table and column; one about several columns is in each."""
    said: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for entry in summary.get("entries", []):
        named = [entry["field"]] if entry["field"] else {one["field"] for one in entry["examples"]}
        for column in ", ".join(named).split(", "):
            said.setdefault((entry["table"], column), []).append(entry)
    return said


def _table(table: Mapping[str, Any], checked: Mapping[str, Any] | None, said: Said) -> Table:
    columns = {one["name"]: one for one in checked["columns"]} if checked else {}
    key = table["schema"].get("primaryKey") or []
    keys = {key} if isinstance(key, str) else set(key)
    return Table(
        name=str(table["name"]),
        title=str(table.get("title") or table["name"]),
        description=str(table.get("description", "")),
        fields=tuple(
            _field(
                field,
                columns.get(field["name"]),
                said.get((str(table["name"]), field["name"]), []),
                is_key=field["name"] in keys,
            )
            for field in fields_of(table["schema"])
        ),
        rows=checked["rows"] if checked else None,
        path=str(table.get("path", "")),
        bytes=checked["bytes"] if checked else None,
    )


def _field(
    field: Mapping[str, Any],
    column: Mapping[str, Any] | None,
    said: list[Mapping[str, Any]],
    *,
    is_key: bool,
) -> Field:
    kind = str(field.get("type", "string"))
    coded = field.get("categories") or field.get("constraints", {}).get("enum")
    kind_said = "word from a list" if coded and kind == "string" else WORDS.get(kind, kind)
    unusual = tuple(
        (finding["value"], finding["row"])
        for entry in said
        if entry["code"] == UNUSUAL
        for finding in entry["examples"]
    )
    return Field(
        name=field["name"],
        title=str(field.get("title") or field["name"]),
        type=f"{kind_said}, key" if is_key else kind_said,
        unit=str(field.get(UNIT, "")),
        role=str(field.get(ROLE, "")),
        meaning=str(field.get("description", "")),
        id=str(field.get(FIELD_ID, "")),
        rules=tuple(_rules(field, coded)),
        ethogram=tuple(field.get(ETHOGRAM, ())),
        filled=_filled(column["filled"]) if column else "",
        spread=spread_said(column) if column else "",
        spark=spark(column, [one["value"] for entry in said for one in entry["examples"]])
        if column
        else "",
        steps=tuple(steps(column)) if column else (),
        found=tuple(
            f"{CODES[entry['code']].title}: {number_said(entry['count'])}"
            for entry in said
            if entry["code"] != UNUSUAL and entry["code"] in CODES
        ),
        unusual=unusual,
    )


def _rules(field: Mapping[str, Any], coded: Any) -> Iterator[str]:
    constraints = field.get("constraints", {})
    if constraints.get("required"):
        yield "never empty"
    if constraints.get("unique"):
        yield "each once"
    if said := _range(constraints):
        yield said
    if isinstance(span := field.get(PLAUSIBLE), Mapping):
        yield f"likely {_range(span)}: {span.get('reason', '')}"
    if isinstance(coded, list) and not field.get(ETHOGRAM):
        values = [str(one.get("value") if isinstance(one, dict) else one) for one in coded]
        yield ", ".join(values[:12]) + (f" and {len(values) - 12} more" if values[12:] else "")


def _range(ends: Mapping[str, Any]) -> str:
    least, most = ends.get("minimum"), ends.get("maximum")
    if least is None:
        return "" if most is None else f"{most} or less"
    return f"{least} or more" if most is None else f"{least} to {most}"


def _filled(share: float) -> str:
    if share >= 1:
        return "full"
    # Rounded down: what is not quite full is never called full.
    return f"{int(share * 100)} %"


@dataclass(frozen=True)
class FirstRows:
    """The head of a table, as it stands in the file."""

    table: Table
    labels: tuple[Field | None, ...]
    names: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def heads(self) -> list[tuple[str, str, bool]]:
        """Each column's name and unit, and whether it holds numbers."""
        return [
            (name, field.unit if field else "", _is_number(field))
            for name, field in zip(self.names, self.labels, strict=True)
        ]

    @property
    def cells(self) -> list[list[tuple[str, bool]]]:
        """Each row's cells, and whether they are numbers."""
        numbers = [_is_number(field) for field in self.labels]
        return [list(zip(row, numbers, strict=False)) for row in self.rows]


def _is_number(field: Field | None) -> bool:
    return field is not None and field.type.partition(",")[0] in {"number", "whole number"}


def first_rows(version: Version, table: Table) -> FirstRows:
    """Read the first rows of a table from the store: a few kilobytes of it, never the whole."""
    with store().open_file(version.identifier, table.path) as opened:
        head = opened.read(_READ_BYTES)
    layout = layout_of(version, table.path)
    if table.path.endswith(".tsv"):
        layout.setdefault("delimiter", "\t")
    reader = csv.reader(
        io.StringIO(head.decode("utf-8-sig", "ignore"), newline=""), **reader_options(layout)
    )
    lines: list[tuple[str, ...]] = []
    try:
        for cells in reader:
            lines.append(tuple(cell[:200] for cell in cells[:MOST_COLUMNS]))
            if len(lines) > FIRST_ROWS:
                break
    except csv.Error:
        pass  # a long cell was cut at the end of what was read
    if len(head) == _READ_BYTES and len(lines) <= FIRST_ROWS:
        lines = lines[:-1]
    names = lines[0] if lines else ()
    known = {field.name: field for field in table.fields}
    return FirstRows(
        table=table,
        labels=tuple(known.get(name.strip()) for name in names),
        names=names,
        rows=tuple(line for line in lines[1:] if line),
    )
