"""The tables of a package, one after the other: each judged, and told with its columns."""

import copy
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from frictionless import Package

from archive.engine.checks.chunk import Check
from archive.engine.checks.planned import PlannedNumbers
from archive.engine.checks.vanished import Draft, Vanished
from archive.engine.codes import found
from archive.engine.descriptor import Descriptor, untyped_fields
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Finding
from archive.engine.limits import Limits
from archive.engine.reading import Scan, scan_table
from archive.engine.reports import ColumnSummary, FileReport, Sink, TableReport
from archive.engine.roles import FieldRole, fields_with_role, primary_key
from archive.engine.table import TablePass, own_checks, register_checks

Progress = Callable[[float], None]


@dataclass(slots=True)
class Files:
    """What is known of the package's files while it is checked.

    Of the tables that are `begun` only the beginning was looked at: their scans are a guess yet.
    """

    scans: dict[str, Scan] = field(default_factory=dict)
    begun: dict[str, Path] = field(default_factory=dict)
    closed: set[str] = field(default_factory=set)
    tables: list[TableReport] = field(default_factory=list)
    others: list[FileReport] = field(default_factory=list)

    @property
    def records(self) -> int:
        """How many records the readable tables hold."""
        return sum(scan.records for name, scan in self.scans.items() if name not in self.closed)


def scan_whole(
    place: Path, resource: Mapping[str, Any], sink: Sink, files: Files, limits: Limits
) -> Scan:
    """Look at a table from its first byte to its last, before other readers are sent over it."""
    scan = scan_table(place, resource["name"], resource["dialect"]["csv"], limits)
    sink.take_all(scan.findings)
    if not scan.is_readable:
        files.closed.add(resource["name"])
    files.scans[resource["name"]] = scan
    return scan


@dataclass(slots=True)
class Tables:
    """The tables of a package while they are judged, and what they are held against.

    Parameters
    ----------
    sink : Sink
    files : Files
    limits : Limits
    facts : RegisterFacts or None
    drafts : mapping of table to Draft
        Of the last draft.
    progress : callable, optional
        Told the share done, 0 to 1.
    """

    sink: Sink
    files: Files
    limits: Limits
    facts: RegisterFacts | None
    drafts: Mapping[str, Draft]
    progress: Progress | None
    planned: PlannedNumbers = field(init=False)
    done: int = 0
    share: float = 0.0

    def __post_init__(self) -> None:
        self.planned = PlannedNumbers((self.facts and self.facts.planned) or ())

    def check(
        self, tables: list[Descriptor], package: Package, reopen: Callable[[], Package | None]
    ) -> None:
        """Judge each; where one must be read otherwise than it is described, frictionless reopens.

        Parameters
        ----------
        tables : list of dict
            Their resources in the descriptor.
        package : frictionless.Package
            The descriptor as frictionless holds it.
        reopen : callable
            Has frictionless take the descriptor anew.
        """
        schemas = {table["name"]: copy.deepcopy(table["schema"]) for table in tables}
        _prepare(tables, self.sink, self.files)
        is_changed = any(table["schema"] != schemas[table["name"]] for table in tables)
        opened = reopen() if is_changed else package
        for table in tables:
            self.files.tables.append(self._judge(opened, table, schemas[table["name"]]))
        if self.sink.is_whole and not self.files.closed and not self.sink.is_full:
            self.sink.take_all(self.planned.close())
        if self.facts is not None and not any(map(_has_subject, schemas.values())):
            message = "No column says which animal or session a row is about."
            self.sink.take(found("no-role", message))

    def _checks(self, name: str, schema: Mapping[str, Any]) -> list[Check]:
        """Make the checks that a table gets, as if nothing of it had been seen."""
        checks = own_checks(name, schema)
        if self.facts is not None:
            checks += [*register_checks(name, schema, self.facts), self.planned.for_table(schema)]
        if name in self.drafts:
            checks.append(Vanished(name, replace(self.drafts[name], key=primary_key(schema))))
        return checks

    def _judge(
        self, package: Package | None, table: Descriptor, schema: Mapping[str, Any]
    ) -> TableReport:
        """Judge one; look at it whole where nobody has yet, and judging it could not."""
        name, files = table["name"], self.files
        one: TablePass | None = None
        if package is not None and not self.sink.is_full and name not in files.closed:
            self.sink.take_all(untyped_fields(schema, name))
            make = partial(self._checks, name, schema)
            one = TablePass(
                package.get_resource(name), name, schema, make, self.sink, self._teller()
            )
        columns: tuple[ColumnSummary, ...] | None = None
        if (place := files.begun.pop(name, None)) is not None:
            columns = one.run(self.limits) if one is not None else None
            if one is not None and columns is not None:
                files.scans[name] = Scan(one.bytes, one.sha256, one.rows + 1)
            else:
                scan_whole(place, table, self.sink, files, self.limits)
        scan = files.scans.get(name, Scan())
        if one is not None and columns is None and name not in files.closed:
            one.sha256 = scan.sha256
            columns = one.run()
        rows = one.rows if one is not None else 0
        if columns is not None and not rows and scan.records == 1:
            message = f"“{name}” has its heading and holds no rows."
            self.sink.take(found("no-rows", message, table=name))
        self.done += rows
        slow_because = one.slow_because if one is not None and columns is not None else ""
        note = f"Read the slow way, because {slow_because}." if slow_because else ""
        rows = rows or max(0, scan.records - 1)
        return TableReport(name, table["path"], rows, scan.bytes, scan.sha256, columns or (), note)

    def _teller(self) -> Callable[[int], None] | None:
        progress, done, records = self.progress, self.done, max(self.files.records, 1)
        if progress is None:
            return None

        def tell(rows: int) -> None:
            # A table that is read again, the other way, does not take back what was told.
            self.share = max(self.share, min(1.0, (done + rows) / records))
            progress(self.share)

        return tell


def _has_subject(schema: Mapping[str, Any]) -> bool:
    return bool(fields_with_role(schema, FieldRole.ANIMAL, FieldRole.GROUP, FieldRole.SESSION))


def _prepare(tables: list[Descriptor], sink: Sink, files: Files) -> None:
    """Read shifted columns by name, and leave out links to tables that cannot be opened."""
    for resource in tables:
        name = resource["name"]
        if name in files.closed:
            continue
        schema = resource["schema"]
        if is_shifted(files.scans[name].labels, resource):
            sink.take_all(_reordered(name, files.scans[name].labels, schema))
            schema["fieldsMatch"] = "equal"
        links = schema.get("foreignKeys")
        if isinstance(links, list):
            schema["foreignKeys"] = [
                link for link in links if not _is_closed(sink, files, name, link)
            ]


def _is_closed(sink: Sink, files: Files, name: str, link: Any) -> bool:
    there = link.get("reference") if isinstance(link, dict) else None
    other = there.get("resource") if isinstance(there, dict) else None
    if other not in files.closed:
        return False
    message = f"The names in “{name}” were not looked up in “{other}”, which cannot be read."
    sink.take(found("not-checked", message, table=name))
    return True


def is_shifted(labels: list[str], resource: Mapping[str, Any]) -> bool:
    """Whether columns that the schema knows stand in other places than it says.

    Matched by place, as the standard's default has it, one missing column would make every cell
    after it a finding; matched by name it is one finding. Only where the header is one row, its
    labels differ, and the schema asks for no match of its own.
    """
    schema, dialect = resource["schema"], resource["dialect"]
    fields = schema.get("fields")
    if (
        not isinstance(fields, list)
        or not all(isinstance(one, dict) and isinstance(one.get("name"), str) for one in fields)
        or schema.get("fieldsMatch", "exact") != "exact"
        or dialect.get("headerRows") != [1]
        or any(dialect.get(key) for key in ("commentChar", "commentRows"))
        or dialect.get("headerCase", True) is False
        or len(set(labels)) != len(labels)
        or "" in labels
    ):
        return False
    names = [one["name"] for one in fields]
    return any(
        label in names and (at >= len(names) or names[at] != label)
        for at, label in enumerate(labels)
    )


def _reordered(name: str, labels: list[str], schema: Mapping[str, Any]) -> Iterator[Finding]:
    """Say where the columns are all there, in another order; a missing one says so itself."""
    names = [one["name"] for one in schema["fields"]]
    if set(names) != set(labels):
        return
    for number, (label, wanted) in enumerate(zip(labels, names, strict=True), start=1):
        if label != wanted:
            message = f"Column {number} is called “{label}” where “{wanted}” is expected."
            yield found("incorrect-label", message, table=name, row=1, field=wanted, value=label)
