"""What pages and breaches need of a report, small enough to be kept in a row; read in one pass."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from archive.engine.causes import Suspicion
from archive.engine.findings import Finding, Group
from archive.engine.grouping import Grouping
from archive.engine.reports import ColumnSummary, Report, Told

SHOWN = 50
"""Findings of one code that a page shows; all are in the downloads."""

EXPLAINED = 100
"""Things to explain of one code that are told one by one; what is beyond is counted."""

COUNTED = 20_000
"""Different things of one code that are counted; what is beyond is only said to be more."""

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


class ToExplain:
    """What the register asks to have explained: one thing for each code, value and sentence.

    A hundred rows about one animal on one day are one thing to explain.
    """

    def __init__(self) -> None:
        self.kept: list[Finding] = []
        self.seen: dict[str, set[tuple[str, str]]] = {}
        self.uncounted: set[str] = set()

    def take(self, finding: Finding) -> None:
        """Take the finding in, where it says something new; its row left out."""
        if finding.group is not Group.REGISTER:
            return
        seen = self.seen.setdefault(finding.code, set())
        thing = (finding.value, without_row(finding.message))
        if thing in seen:
            return
        if len(seen) == COUNTED:
            self.uncounted.add(finding.code)
            return
        seen.add(thing)
        if len(seen) <= EXPLAINED:
            self.kept.append(finding)

    def more(self) -> dict[str, str]:
        """Say of each code how many more things there are."""
        return {
            code: f"{'more than ' * (code in self.uncounted)}{len(seen) - EXPLAINED:,}"
            for code, seen in self.seen.items()
            if len(seen) > EXPLAINED
        }


class Gathered:
    """All that is made of the findings of one report, taken in one by one."""

    def __init__(self) -> None:
        self.shown: dict[str, list[dict[str, Any]]] = {}
        self.rows = Rows()
        self.grouping = Grouping()
        self.to_explain = ToExplain()

    def take(self, finding: Finding) -> None:
        """Mark the finding's row, put it to its like, and keep the first of each code."""
        self.rows.take(finding)
        self.grouping.take(finding)
        self.to_explain.take(finding)
        kept = self.shown.setdefault(finding.code, [])
        if len(kept) < SHOWN:
            kept.append(finding.as_dict())


def told_of(
    report: Report, gathered: Gathered, suspicions: Iterable[Suspicion] = (), fault: str = ""
) -> Told:
    """Put together what is told of a report; `fault` says why no causes were looked for."""
    return Told(
        summary=_summary(report, gathered, suspicions),
        to_explain=tuple(gathered.to_explain.kept),
        more_to_explain=gathered.to_explain.more(),
        fault=fault,
    )


def gather(report: Report, fault: str = "") -> Told:
    """Read the findings once, and put together what is told of them; causes are not looked for."""
    gathered = Gathered()
    for finding in report.findings:
        gathered.take(finding)
    return told_of(report, gathered, fault=fault)


def _summary(report: Report, gathered: Gathered, suspicions: Iterable[Suspicion]) -> dict[str, Any]:
    """Give a report's counts, entries, suspicions and columns, and the first of each code."""
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
        "findings": gathered.shown,
        "rows_found": gathered.rows.counts(),
        "entries": [entry.as_dict() for entry in gathered.grouping.entries()],
        "suspicions": [one.as_dict() for one in suspicions],
    }


def _column(column: ColumnSummary) -> dict[str, Any]:
    shape = asdict(column)
    shape["values"] = [list(pair) for pair in column.values[:VALUES]]
    shape["bins"] = list(column.bins)
    return shape


def count_of(summary: Mapping[str, Any], group: Group) -> int:
    """Give how many findings of a group the check made."""
    return sum(one["count"] for one in summary.get("counts", []) if one["group"] == group.value)


def without_row(message: str) -> str:
    """Leave the row out of what a finding says."""
    return _AT_ROW.sub("", message)


def said_of(finding: Finding) -> str:
    """Give what a finding says, without its row."""
    said = without_row(finding.message).rstrip(".")
    where = f"column “{finding.field}” of “{finding.table}”" if finding.field else finding.table
    return f"{said[:1].upper()}{said[1:]} ({where} in the data)."
