"""Check a package on disk, whatever it is: a folder, a descriptor, or a zip; no database needed."""

import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from archive.engine.causes import Suspicion, told
from archive.engine.codes import found
from archive.engine.findings import Finding, Verdict
from archive.engine.limits import Limits
from archive.engine.reports import Report, Sink
from archive.engine.unpack import is_zip, unpack
from archive.engine.watch import check_in_child
from registry.errors import Refusal

EXIT_CODES = {Verdict.VALID: 0, Verdict.INVALID: 1, Verdict.NOT_CHECKED: 2}
DEFAULT_LIMITS = Limits()


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
    """Give the report in the shape of the command: verdict, findings, tables, suspicions."""
    return {
        "verdict": report.verdict.value,
        "findings": [_plain(finding) for finding in report.findings],
        "tables": [
            {
                "name": table.name,
                "rows": table.rows,
                "bytes": table.bytes,
                "sha256": table.sha256,
            }
            for table in report.tables
        ],
        "suspicions": [one.as_dict() for one in suspicions],
    }


def _plain(finding: Finding) -> dict[str, Any]:
    shape = finding.as_dict()
    keys = ("code", "table", "row", "field", "value", "message", "remedy", "group")
    return {key: shape[key] for key in keys}


def as_text(report: Report, suspicions: Iterable[Suspicion] = ()) -> str:
    """Say the report in lines for a terminal; what is suspected comes before what was found."""
    lines = [f"Verdict: {report.verdict}"]
    if report.reason:
        lines.append(report.reason)
    lines += [f"Table {t.name}: {t.rows:,} rows, sha256 {t.sha256}" for t in report.tables]
    lines += told(suspicions)
    for finding in report.findings:
        place = ", ".join(
            part
            for part in (
                finding.table,
                f"row {finding.row}" if finding.row else "",
                finding.field,
            )
            if part
        )
        lines.append(f"[{finding.group}: {finding.code}] {place}".rstrip())
        lines += [f"    {finding.message}", f"    What to do: {finding.remedy}"]
    return "\n".join(lines)
