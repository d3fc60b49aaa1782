"""The one entry point of the engine: check a folder, and hand back a report."""

import copy
import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from frictionless import FrictionlessException, Package, system

from archive.engine.checks.planned import PlannedNumbers
from archive.engine.checks.vanished import Draft, Vanished
from archive.engine.codes import found
from archive.engine.descriptor import (
    NAME,
    Descriptor,
    examine,
    find_descriptor,
    hold_against,
    inside,
    is_table,
    package_for,
    pin,
    read_descriptor,
    untyped_fields,
)
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Finding, Verdict
from archive.engine.limits import Limits
from archive.engine.reading import Scan, scan_file, scan_table
from archive.engine.reports import ColumnSummary, FileReport, Report, Sink, TableReport
from archive.engine.roles import FieldRole, fields_with_role, primary_key
from archive.engine.table import TablePass, crashed, own_checks, register_checks
from archive.engine.translate import translate
from registry.guarded.sizes import size

Progress = Callable[[float], None]
DEFAULT_LIMITS = Limits()


def check(
    folder: Path,
    *,
    facts: RegisterFacts | None = None,
    limits: Limits = DEFAULT_LIMITS,
    expected: Descriptor | None = None,
    descriptor: Descriptor | None = None,
    previous: Path | None = None,
    progress: Progress | None = None,
    limit_findings: int | None = None,
    findings_path: Path | None = None,
) -> Report:
    """Check a data package: each byte, each row, each cell.

    Parameters
    ----------
    folder : Path
        Holds datapackage.json (or one folder that holds it) and the files that it names; or the
        descriptor itself, under any name.
    facts : RegisterFacts, optional
        What the register knows of the project; without it the table alone is judged.
    limits : Limits
    expected : dict, optional
        The dictionary's descriptor: its schemas rule, and differences are findings.
    descriptor : dict, optional
        Stands in for datapackage.json, for files that came without one (see `package_for`).
    previous : Path, optional
        Folder of the last draft, whose vanished rows are listed.
    progress : callable, optional
        Told the share done, 0 to 1.
    limit_findings : int, optional
        Stop at so many findings. The report then says so, and is never valid.
    findings_path : Path, optional
        Write findings there as they come, one JSON object a line, rather than keep them.

    Returns
    -------
    Report
    """
    sink = Sink(findings_path, limit_findings)
    read = _read(folder, sink, descriptor, limits)
    if read is None:
        return _unread(sink)
    whole, place = read
    if expected is not None and not sink.count:
        whole, differences = hold_against(whole, expected)
        sink.take_all(differences)
    files = Files()
    refused = examine(whole, limits)
    sink.take_all(refused)
    with system.use_context(trusted=False, onerror="ignore", standards="v2"):
        if not refused and open_package(whole := pin(whole), place, sink) is not None:
            _scan(whole, place, sink, files, limits)
            _check_tables(whole, place, sink, files, facts, _drafts(previous, limits), progress)
    if progress:
        progress(1.0)
    return sink.report(files.tables, files.others)


def check_table(
    path: Path,
    schema: Mapping[str, Any],
    *,
    name: str = "table",
    dialect: Mapping[str, Any] | None = None,
    **options: Any,
) -> Report:
    """Check one bare CSV file against a schema; the options are those of `check`."""
    resource = {"name": name, "type": "table", "path": path.name, "schema": dict(schema)}
    if dialect:
        resource["dialect"] = dict(dialect)
    version = "https://datapackage.org/profiles/2.0/datapackage.json"
    descriptor = package_for({"$schema": version, "resources": [resource]}, {name: path.name})
    return check(path.parent, descriptor=descriptor, **options)


@dataclass(slots=True)
class Files:
    """What is known of the package's files while it is checked."""

    scans: dict[str, Scan] = field(default_factory=dict)
    closed: set[str] = field(default_factory=set)
    tables: list[TableReport] = field(default_factory=list)
    others: list[FileReport] = field(default_factory=list)

    @property
    def records(self) -> int:
        """How many records the readable tables hold."""
        return sum(scan.records for name, scan in self.scans.items() if name not in self.closed)


def _unread(sink: Sink) -> Report:
    """Say that there was nothing to judge: the descriptor could not be read."""
    report = sink.report([], [])
    reason = next(iter(report.findings)).message
    return replace(report, verdict=Verdict.NOT_CHECKED, reason=reason)


# ------------------------------------------------------------------ before the rows


def _read(
    folder: Path, sink: Sink, given: Descriptor | None, limits: Limits
) -> tuple[Descriptor, Path] | None:
    """Give the descriptor and the folder in which its paths begin."""
    if given is not None:
        return copy.deepcopy(given), folder
    path = folder if folder.is_file() else find_descriptor(folder)
    if path is None:
        sink.take(found("descriptor-unreadable", f"There is no {NAME} in the package."))
        return None
    descriptor, findings = read_descriptor(path, limits)
    sink.take_all(findings)
    return None if descriptor is None else (descriptor, path.parent)


def open_package(descriptor: Descriptor, folder: Path, sink: Sink) -> Package | None:
    """Have frictionless check the descriptor itself; what it finds goes to the sink."""
    try:
        package = Package.from_descriptor(copy.deepcopy(descriptor), basepath=str(folder))
        package.to_descriptor(validate=True)
    except FrictionlessException as fault:
        sink.take_all(translate(error, "") for error in fault.to_errors())
        return None
    except Exception as fault:  # noqa: BLE001 - a reader's crash is a finding, never a verdict
        sink.take(crashed(NAME, None, fault))
        return None
    return package


def _scan(whole: Descriptor, folder: Path, sink: Sink, files: Files, limits: Limits) -> None:
    """Read each file once, from its first byte to its last."""
    total = 0
    for resource in whole["resources"]:
        name, path = resource["name"], resource["path"]
        place = inside(folder, path)
        if place is None:
            sink.take(_absent(folder, name, path))
            files.closed.add(name)
            continue
        if is_table(resource):
            scan = scan_table(place, name, resource["dialect"]["csv"], limits)
            sink.take_all(scan.findings)
            if not scan.is_readable:
                files.closed.add(name)
        else:
            scan = scan_file(place)
            files.others.append(FileReport(name, path, scan.bytes, scan.sha256))
        sink.take_all(_declared(place, name, resource, scan))
        files.scans[name] = scan
        total += scan.bytes
    if total > limits.package_bytes:
        message = f"The package is {size(total)}; the limit is {size(limits.package_bytes)}."
        sink.take(found("package-too-large", message))
    if (folder / NAME).is_file():
        sink.take_all(_unlisted(folder, {NAME} | {one["path"] for one in whole["resources"]}))


def _absent(folder: Path, name: str, path: str) -> Finding:
    if (folder / path).exists():
        message = f"“{path}” is a link or no plain file."
        return found("unsafe-path", message, table=name, value=path)
    return found("scheme-error", f"The file “{path}” is not there.", table=name, value=path)


def _unlisted(folder: Path, listed: set[str]) -> Iterator[Finding]:
    for place in sorted(folder.rglob("*")):
        path = place.relative_to(folder).as_posix()
        if place.is_file() and path not in listed:
            yield found("unlisted-file", f"“{path}” is not described.", value=path)


def _declared(place: Path, name: str, resource: Mapping[str, Any], scan: Scan) -> Iterator[Finding]:
    """Compare size and digest with what was declared, where frictionless does not."""
    said = resource.get("hash")
    if isinstance(said, str) and said:
        algorithm, _, digest = said.rpartition(":")
        algorithm = algorithm or "md5"
        # md5 and sha256 of tables are frictionless' own check.
        if not is_table(resource) or algorithm not in {"md5", "sha256"}:
            yield from _hashed(place, name, algorithm, digest)
    count = resource.get("bytes")
    if not is_table(resource) and isinstance(count, int) and count != scan.bytes:
        message = f"“{name}” has {scan.bytes:,} bytes; {count:,} are declared."
        yield found("byte-count", message, table=name)


def _hashed(place: Path, name: str, algorithm: str, digest: str) -> Iterator[Finding]:
    if algorithm not in hashlib.algorithms_guaranteed - {"shake_128", "shake_256"}:
        message = f"The digest of “{name}” is of the unknown kind “{algorithm}”."
        yield found("hash-count", message, table=name, value=algorithm)
        return
    with place.open("rb") as file:
        actual = hashlib.file_digest(file, algorithm).hexdigest()
    if actual != digest.lower():
        message = f"The {algorithm} of “{name}” is {actual}, not {digest}."
        yield found("hash-count", message, table=name, value=digest)


def _drafts(previous: Path | None, limits: Limits) -> dict[str, Draft]:
    """Find the tables of the last draft, as far as it can be read."""
    path = None if previous is None or not previous.is_dir() else find_descriptor(previous)
    if path is None:
        return {}
    descriptor, _ = read_descriptor(path, limits)
    if descriptor is None or examine(descriptor, limits):
        return {}
    return {
        resource["name"]: Draft(place, resource["dialect"]["csv"])
        for resource in pin(descriptor)["resources"]
        if is_table(resource) and (place := inside(path.parent, resource["path"]))
    }


# ------------------------------------------------------------------ the rows


def _check_tables(
    whole: Descriptor,
    folder: Path,
    sink: Sink,
    files: Files,
    facts: RegisterFacts | None,
    drafts: Mapping[str, Draft],
    progress: Progress | None,
) -> None:
    tables = [resource for resource in whole["resources"] if is_table(resource)]
    schemas = {table["name"]: copy.deepcopy(table["schema"]) for table in tables}
    _prepare(tables, sink, files)
    package = open_package(whole, folder, sink)
    planned = PlannedNumbers((facts and facts.planned) or ())
    done = 0
    for table in tables:
        name = table["name"]
        rows = 0
        columns: tuple[ColumnSummary, ...] = ()
        note = ""
        if package is not None and name not in files.closed and not sink.is_full:
            schema = schemas[name]
            sink.take_all(untyped_fields(schema, name))
            checks = own_checks(name, schema)
            if facts is not None:
                checks += [*register_checks(name, schema, facts), planned.for_table(schema)]
            if name in drafts:
                checks.append(Vanished(name, replace(drafts[name], key=primary_key(schema))))
            tell = _teller(progress, done, files.records)
            resource, known = package.get_resource(name), files.scans[name].sha256
            one = TablePass(resource, name, schema, checks, sink, tell, known)
            columns, rows = one.run(), one.rows
            done += rows
            if one.slow_because:
                note = f"Read the slow way, because {one.slow_because}."
        files.tables.append(_table_report(table, files, rows, columns, note))
    if sink.is_whole and not files.closed and not sink.is_full:
        sink.take_all(planned.close())
    if facts is not None and not any(_has_subject(schema) for schema in schemas.values()):
        sink.take(found("no-role", "No column says which animal or session a row is about."))


def _teller(progress: Progress | None, done: int, records: int) -> Callable[[int], None] | None:
    if progress is None:
        return None
    return lambda rows: progress(min(1.0, (done + rows) / max(records, 1)))


def _table_report(
    resource: Mapping[str, Any],
    files: Files,
    rows: int,
    columns: tuple[ColumnSummary, ...],
    note: str,
) -> TableReport:
    scan = files.scans.get(resource["name"], Scan())
    rows = rows or max(0, scan.records - 1)
    return TableReport(
        resource["name"], resource["path"], rows, scan.bytes, scan.sha256, columns, note
    )


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
