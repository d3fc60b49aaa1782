"""What pages and breaches need of a report, small enough to be kept in a row."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from archive.engine.codes import CODES
from archive.engine.findings import Finding, Group
from archive.engine.reports import ColumnSummary, Report
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


def summary_of(report: Report) -> dict[str, Any]:
    """Give a report's counts, its columns and the first findings of each code."""
    shown: dict[str, list[dict[str, Any]]] = {}
    for finding in report.findings:
        kept = shown.setdefault(finding.code, [])
        if len(kept) < SHOWN:
            kept.append(finding.as_dict())
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
    }


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
        for one in summary.get("counts", []):
            if one["group"] != group.value:
                continue
            number += 1
            kept = summary["findings"].get(one["code"], [])
            findings.append(_shown(number, one, kept, paths, units, breaches or {}))
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
    counted: Mapping[str, Any],
    kept: list[dict[str, Any]],
    paths: Mapping[str, str],
    units: Mapping[tuple[str, str], str],
    breaches: Mapping[str, str],
) -> dict[str, Any]:
    code = counted["code"]
    count = counted["count"]
    todo = Counter(one["remedy"] for one in kept).most_common(1)
    title = CODES[code].title if code in CODES else code
    only = len({one["message"] for one in kept}) == 1 and count == 1
    return {
        "number": number,
        "title": title,
        "says": kept[0]["message"]
        if only
        else ngettext(
            "%(number)s findings of this kind.", "%(number)s findings of this kind.", count
        )
        % {"number": number_said(count)},
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
            % {"shown": len(kept), "all": number_said(count)}
            if count > len(kept)
            else ""
        ),
    }


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
