"""Check a package on disk, whatever it is: a folder, a descriptor, or a zip; no database needed."""

import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from archive.engine.causes import Suspicion, told
from archive.engine.codes import found
from archive.engine.findings import Finding, Group, Verdict
from archive.engine.grouping import Entry, grouped, rows_in_short
from archive.engine.limits import Limits
from archive.engine.reports import ColumnSummary, Report, Sink
from archive.engine.unpack import is_zip, unpack
from archive.engine.watch import check_in_child
from registry.errors import Refusal

EXIT_CODES = {Verdict.VALID: 0, Verdict.INVALID: 1, Verdict.NOT_CHECKED: 2}
DEFAULT_LIMITS = Limits()
SHOWN = 3
"""Findings of an entry that the terminal shows."""

BARS = " ▁▂▃▄▅▆▇█"


def check_path(
    path: Path,
    *,
    limits: Limits = DEFAULT_LIMITS,
    after: Callable[[Path, Report], None] | None = None,
) -> Report:
    """Check the package at a path.

    Parameters
    ----------
    path : Path
        A folder with datapackage.json, the descriptor itself, or a zip of such a folder.
    limits : Limits
    after : callable, optional
        Given the folder as it was checked and the report, while an unpacked zip still lies there.

    Returns
    -------
    Report
        What cannot be read at all is "not checked", with the reason.
    """
    try:
        if path.is_file() and is_zip(path):
            with tempfile.TemporaryDirectory(prefix="package-") as room:
                unpack(path, Path(room), limits)
                return _checked(Path(room), limits, after)
        if path.is_file() or path.is_dir():
            return _checked(path, limits, after)
    except Refusal as refusal:
        return _unread(f"{refusal.what} {refusal.why} {refusal.next}")
    except OSError as fault:
        return _unread(f"“{path.name}” could not be opened: {fault.strerror}.")
    return _unread(f"There is nothing at “{path}”.")


def _checked(folder: Path, limits: Limits, after: Callable[[Path, Report], None] | None) -> Report:
    report = check_in_child(folder, limits=limits)
    if after is not None:
        after(folder, report)
    return report


def _unread(reason: str) -> Report:
    sink = Sink()
    sink.take(found("descriptor-unreadable", reason))
    whole = sink.report([], [])
    return Report(Verdict.NOT_CHECKED, whole.findings, tallies=whole.tallies, reason=reason)


def as_json(report: Report, suspicions: Iterable[Suspicion] = ()) -> dict[str, Any]:
    """Give the report in the shape of the command.

    Returns
    -------
    dict
        ``verdict``; ``findings``, each of them; ``entries``, the same put together as a reader
        wants them; ``tables`` with a summary of each column; ``suspicions``.
    """
    return {
        "verdict": report.verdict.value,
        "findings": [_plain(finding) for finding in report.findings],
        "entries": [entry.as_dict() for entry in grouped(report.findings)],
        "tables": [
            {
                "name": table.name,
                "rows": table.rows,
                "bytes": table.bytes,
                "sha256": table.sha256,
                "columns": [asdict(column) for column in table.columns],
            }
            for table in report.tables
        ],
        "suspicions": [one.as_dict() for one in suspicions],
    }


def _plain(finding: Finding) -> dict[str, Any]:
    shape = finding.as_dict()
    keys = ("code", "table", "row", "field", "value", "message", "remedy", "group")
    return {key: shape[key] for key in keys}


HEADINGS = {
    Group.TABLE: "Must be put right",
    Group.REGISTER: "To be explained",
    Group.UNUSUAL: "Only to read",
}


def as_text(report: Report, suspicions: Iterable[Suspicion] = ()) -> str:
    """Say the report in lines for a terminal: what is suspected, what was found, the columns."""
    lines = [f"Verdict: {report.verdict}"]
    if report.reason:
        lines.append(report.reason)
    lines += [f"Table {t.name}: {t.rows:,} rows, sha256 {t.sha256}" for t in report.tables]
    lines += told(suspicions)
    entries = grouped(report.findings)
    for group, heading in HEADINGS.items():
        of_group = [entry for entry in entries if entry.group is group]
        if of_group:
            said = f"{len(of_group):,} {'thing' if len(of_group) == 1 else 'things'}"
            lines += ["", f"{heading}: {said}, {report.count(group):,} findings"]
        for entry in of_group:
            lines += _said(entry)
    for table in report.tables:
        if table.columns:
            lines += ["", f"Columns of {table.name}", *map(_glance, table.columns)]
    return "\n".join(lines)


def _said(entry: Entry) -> Iterator[str]:
    place = ", ".join(part for part in (entry.table, entry.field) if part) or "the package"
    rows = rows_in_short(entry.runs, entry.rows - entry.told_rows)
    count = f": {entry.count:,} times" if entry.count > 1 else ""
    where = f", {'rows' if entry.rows > 1 else 'row'} {rows}" if rows else ""
    yield f"[{entry.code}] {place}{count}{where}"
    for finding in entry.examples[:SHOWN]:
        yield f"    {finding.message}"
    if entry.count > SHOWN:
        yield f"    … and {entry.count - min(SHOWN, len(entry.examples)):,} more."
    if entry.folded:
        yield f"    {entry.folded:,} findings more only follow from this."
    yield f"    What to do: {entry.remedy}"


def _glance(column: ColumnSummary) -> str:
    spread = f", {column.least} to {column.greatest}" if column.least else ""
    more = " or more" if column.is_capped else ""
    bars = f"  {_bars(column.bins)}" if any(column.bins) else ""
    return (
        f"    {column.name}: {column.type}, {int(100 * column.filled)} % sound,"
        f" {column.distinct:,}{more} different{spread}{bars}"
    )


def _bars(counts: Iterable[int]) -> str:
    """Draw counts as bars of one line.

    >>> _bars([0, 1, 4, 8])
    ' ▁▄█'
    """
    heights = list(counts)
    most = max(heights)
    return "".join(BARS[max(1, round(8 * count / most))] if count else BARS[0] for count in heights)
