"""The one entry point of the engine: check a folder, and hand back a report."""

import copy
import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from frictionless import FrictionlessException, Package, system

from archive.engine.checks.vanished import Draft
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
)
from archive.engine.exact_places import exact_places
from archive.engine.facts import RegisterFacts
from archive.engine.findings import Finding, Verdict
from archive.engine.limits import Limits
from archive.engine.personal import look_through
from archive.engine.reading import Scan, begin_table, scan_file
from archive.engine.reports import FileReport, Report, Sink
from archive.engine.table import crashed
from archive.engine.tables import Files, Progress, Tables, scan_whole
from archive.engine.translate import translate
from registry.guarded.sizes import size

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
        package = None if refused else open_package(whole := pin(whole), place, sink)
        if package is not None:
            _scan(whole, place, sink, files, limits)
            tables = Tables(sink, files, limits, facts, _drafts(previous, limits), progress)
            tables.check(
                [one for one in whole["resources"] if is_table(one)],
                package,
                partial(open_package, whole, place, sink),
            )
            sink.take_all(_sensitive(whole, place, files, facts))
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
    """Read each file once, from its first byte to its last; some tables later, while judged."""
    total, linked = 0, _linked(whole)
    for resource in whole["resources"]:
        name, path = resource["name"], resource["path"]
        place = inside(folder, path)
        if place is None:
            sink.take(_absent(folder, name, path))
            files.closed.add(name)
            continue
        if is_table(resource):
            # What other tables look names up in must be known to be readable before.
            begun = None if name in linked else begin_table(place, resource, limits)
            if begun is not None:
                files.begun[name] = place
            scan = begun or scan_whole(place, resource, sink, files, limits)
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


def _linked(whole: Descriptor) -> set[Any]:
    """Give the names of the tables in which others look something up."""
    links = [
        (resource["name"], link.get("reference"))
        for resource in whole["resources"]
        if is_table(resource) and isinstance(resource.get("schema"), dict)
        for link in resource["schema"].get("foreignKeys") or ()
        if isinstance(link, dict)
    ]
    named = [(name, there.get("resource")) for name, there in links if isinstance(there, dict)]
    return {there for name, there in named if isinstance(there, str) and there != name}


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


def _sensitive(
    whole: Descriptor, folder: Path, files: Files, facts: RegisterFacts | None
) -> Iterator[Finding]:
    """Look through each table that could be read for what tells of persons and exact places."""
    people = (facts.people if facts is not None else None) or ()
    read = {table.name for table in files.tables}
    for resource in whole["resources"]:
        place = inside(folder, resource["path"]) if is_table(resource) else None
        if place is not None and resource["name"] in read:
            yield from look_through(place, resource, people)
            yield from exact_places(place, resource)


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
