"""What pages and breaches need of a report, small enough to be kept in a row."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from archive.engine.causes import Suspicion
from archive.engine.codes import CODES
from archive.engine.findings import Finding, Group
from archive.engine.grouping import grouped, rows_in_short
from archive.engine.reports import ColumnSummary, Report
from registry.drawings import CheckedFile, Place, Places, Weight, places
from registry.saying import number_said

SHOWN = 50
"""Findings of one code that a page shows; all are in the downloads."""

VALUES = 12
_AT_ROW = re.compile(r"^Row [\d,]+: ")

KINDS = (
    (
        Group.TABLE,
        "must",
        _("Must be put right"),
        _("rows counted as your spreadsheet counts them, headings in row 1"),
        _("Faults of the table itself. The deposit cannot be accepted until they are mended."),
    ),
    (
        Group.REGISTER,
        "expl",
        _("To be explained"),
        _("each is a breach; none holds up the archive"),
        _(
            "What the register says about these rows. They are kept as they are and go into the "
            "version: the data say what happened. Do not delete them."
        ),
    ),
    (Group.UNUSUAL, "read", _("Only to read"), "", ""),
)


def summary_of(report: Report, suspicions: Iterable[Suspicion] = ()) -> dict[str, Any]:
    """Give a report's counts, entries, suspicions and columns, and the first of each code."""
    shown: dict[str, list[dict[str, Any]]] = {}
    entries = grouped(_kept(report.findings, shown))
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
        "entries": [entry.as_dict() for entry in entries],
        "suspicions": [one.as_dict() for one in suspicions],
    }


def _kept(findings: Iterable[Finding], shown: dict[str, list[dict[str, Any]]]) -> Iterator[Finding]:
    """Hand findings on, and keep the first of each code."""
    for finding in findings:
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


def rows_found(summary: Mapping[str, Any], group: Group) -> int:
    """Give how many rows the shown findings of a group touch."""
    return len(
        {
            (one["table"], one["row"])
            for kept in summary.get("findings", {}).values()
            for one in kept
            if one["group"] == group.value and one["row"]
        }
    )


def groups_of(
    summary: Mapping[str, Any], breaches: Mapping[str, str] | None = None
) -> list[dict[str, Any]]:
    """Give the findings in their three groups, as the page shows them."""
    paths = {table["name"]: table["path"] for table in summary.get("tables", [])}
    units = {
        (table["name"], column["name"]): column["unit"]
        for table in summary.get("tables", [])
        for column in table["columns"]
    }
    number = 0
    groups = []
    for group, kind, heading, remark, intro in KINDS:
        findings = []
        for one in summary.get("entries", []):
            if one["group"] != group.value:
                continue
            number += 1
            findings.append(_shown(number, one, paths, units, breaches or {}))
        groups.append(
            {
                "kind": kind,
                "heading": heading,
                "remark": remark,
                "intro": intro,
                "findings": findings,
            }
        )
    return groups


def _shown(
    number: int,
    entry: Mapping[str, Any],
    paths: Mapping[str, str],
    units: Mapping[tuple[str, str], str],
    breaches: Mapping[str, str],
) -> dict[str, Any]:
    code, kept = entry["code"], entry["examples"]
    todo = Counter(one["remedy"] for one in kept).most_common(1)
    where = paths.get(entry["table"], entry["table"])
    return {
        "number": number,
        "title": CODES[code].title if code in CODES else code,
        "says": kept[0]["message"] if entry["count"] == 1 else _said(entry, where),
        "todo": todo[0][0] if todo else "",
        "breach": breaches.get(code, ""),
        "say_head": _("What is wrong"),
        "rows": [
            {
                "file": paths.get(one["table"], one["table"]),
                "row": one["row"],
                "column": one["field"],
                "unit": units.get((one["table"], one["field"]), ""),
                "value": one["value"],
                "say": _AT_ROW.sub("", one["message"]),
            }
            for one in kept
            if one["table"]
        ],
        "more": (
            _("The first %(shown)s of %(all)s are shown; all are in the downloads below.")
            % {"shown": len(kept), "all": number_said(entry["count"])}
            if entry["count"] > len(kept)
            else ""
        ),
        "note": (
            ngettext(
                "%(number)s finding more only follows from this one, and goes with it.",
                "%(number)s findings more only follow from this one, and go with it.",
                entry["folded"],
            )
            % {"number": number_said(entry["folded"])}
            if entry["folded"]
            else ""
        ),
    }


def _said(entry: Mapping[str, Any], where: str) -> str:
    """Say how many there are, in which column, and in which rows."""
    count = ngettext("%(number)s time", "%(number)s times", entry["count"]) % {
        "number": number_said(entry["count"])
    }
    rows = rows_said(entry["runs"], entry["rows_more"])
    if not rows:
        return f"{count}."
    if entry["field"]:
        place = _("in column “%(column)s” of %(file)s") % {"column": entry["field"], "file": where}
    else:
        place = _("in %(file)s") % {"file": where}
    return f"{count} {place}: {rows}."


def rows_said(runs: Iterable[Iterable[int]], more: int = 0) -> str:
    """Say rows in short: "rows 4, 9, 12–40 and 310 more"; nothing where there is none."""
    stretches = [tuple(run) for run in runs]
    count = more + sum(last - first + 1 for first, last in stretches)
    if not count:
        return ""
    return ngettext("row %(rows)s", "rows %(rows)s", count) % {
        "rows": rows_in_short(stretches, more)
    }


_WEIGHTS = {"must": Weight.MUST, "expl": Weight.EXPL, "read": Weight.READ}


def places_of(summary: Mapping[str, Any]) -> Places | None:
    """Draw where in the files the findings lie; nothing where none has a row."""
    where: dict[str, list[Place]] = {}
    number = 0
    for group, kind, *_rest in KINDS:
        for entry in summary.get("entries", []):
            if entry["group"] != group.value:
                continue
            number += 1
            # Row 1 is the heading; the band counts the rows under it.
            runs = [(max(1, first - 1), max(1, last - 1)) for first, last in entry["runs"]]
            where.setdefault(entry["table"], []).extend(
                Place(number, _WEIGHTS[kind], first, last) for first, last in runs
            )
    files = [
        CheckedFile(table["path"], table["rows"], tuple(where[table["name"]]))
        for table in summary.get("tables", [])
        if table["rows"] and where.get(table["name"])
    ]
    return places(files) if files else None


def suspicions_of(summary: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Give what is suspected, as the page shows it; each that can be mended has a number."""
    paths = {table["name"]: table["path"] for table in summary.get("tables", [])}
    return [
        {
            **one,
            "number": number,
            "file": paths.get(one["table"], one["table"]),
            "rows_said": rows_said(_runs(one["rows"])),
            "is_mendable": one["correction"] is not None,
        }
        for number, one in enumerate(summary.get("suspicions", []), start=1)
    ]


def _runs(rows: Iterable[int]) -> list[list[int]]:
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return runs


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
