"""What pages and breaches need of a report, small enough to be kept in a row."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from typing import Any

from archive.engine.causes import Suspicion
from archive.engine.findings import Finding, Group
from archive.engine.grouping import grouped
from archive.engine.reports import ColumnSummary, Report

SHOWN = 50
"""Findings of one code that a page shows; all are in the downloads."""

VALUES = 12
_AT_ROW = re.compile(r"^Row [\d,]+: ")


class Rows:
    """Which rows of each table have a finding of a group, one bit each, so that all can be kept."""

    def __init__(self) -> None:
        self.seen: dict[tuple[str, str], bytearray] = {}

    def take(self, finding: Finding) -> None:
        """Mark the finding's row; the heading is none."""
        if finding.row is None or finding.row < 2:
            return
        bits = self.seen.setdefault((finding.group.value, finding.table), bytearray())
        place, bit = divmod(finding.row, 8)
        if place >= len(bits):
            bits.extend(bytes(place + 1 - len(bits) + (len(bits) >> 1)))
        bits[place] |= 1 << bit

    def counts(self) -> dict[str, int]:
        """Give how many rows of all tables have a finding of each group."""
        told: dict[str, int] = {}
        for (group, _), bits in self.seen.items():
            told[group] = told.get(group, 0) + int.from_bytes(bits).bit_count()
        return told


def summary_of(report: Report, suspicions: Iterable[Suspicion] = ()) -> dict[str, Any]:
    """Give a report's counts, entries, suspicions and columns, and the first of each code."""
    shown: dict[str, list[dict[str, Any]]] = {}
    rows = Rows()
    entries = grouped(_kept(report.findings, shown, rows))
    return {
        "verdict": report.verdict.value,
        "reason": report.reason,
        "is_limited": report.is_limited,
        "counts": [
            {"group": group.value, "code": code, "count": count}
            for (group, code), count in report.counts.items()
        ],
        "tables": [
            {
                "name": table.name,
                "path": table.path,
                "rows": table.rows,
                "bytes": table.bytes,
                "sha256": table.sha256,
                "columns": [_column(column) for column in table.columns],
            }
            for table in report.tables
        ],
        "files": [asdict(file) for file in report.files],
        "findings": shown,
        "rows_found": rows.counts(),
        "entries": [entry.as_dict() for entry in entries],
        "suspicions": [one.as_dict() for one in suspicions],
    }


def _kept(
    findings: Iterable[Finding], shown: dict[str, list[dict[str, Any]]], rows: Rows
) -> Iterator[Finding]:
    """Hand findings on, mark their rows, and keep the first of each code."""
    for finding in findings:
        rows.take(finding)
        kept = shown.setdefault(finding.code, [])
        if len(kept) < SHOWN:
            kept.append(finding.as_dict())
        yield finding


def _column(column: ColumnSummary) -> dict[str, Any]:
    shape = asdict(column)
    shape["values"] = [list(pair) for pair in column.values[:VALUES]]
    shape["bins"] = list(column.bins)
    return shape


def count_of(summary: Mapping[str, Any], group: Group) -> int:
    """Give how many findings of a group the check made."""
    return sum(one["count"] for one in summary.get("counts", []) if one["group"] == group.value)


def to_explain(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Give one finding of the register for each code, value and sentence, rows left out.

    A hundred rows about one animal on one day are one thing to explain.
    """
    seen: set[tuple[str, str, str]] = set()
    for finding in findings:
        if finding.group is not Group.REGISTER:
            continue
        said = _AT_ROW.sub("", finding.message)
        key = (finding.code, finding.value, said)
        if key not in seen:
            seen.add(key)
            yield finding


def said_of(finding: Finding) -> str:
    """Give what a finding says, without its row."""
    said = _AT_ROW.sub("", finding.message).rstrip(".")
    where = f"column “{finding.field}” of “{finding.table}”" if finding.field else finding.table
    return f"{said[:1].upper()}{said[1:]} ({where} in the data)."
