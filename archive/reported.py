"""The report of a check as its page shows it: causes, findings in three groups, where they lie."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from archive.engine.codes import CODES
from archive.engine.findings import Group
from archive.engine.grouping import TOGETHER, rows_in_short
from archive.models import Deposit
from registry.drawings import CheckedFile, Place, Places, Weight, places
from registry.saying import number_said

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
PREVIEWED = 3
"""Changes of a correction that the report shows; its own page shows more."""

_WEIGHTS = {"must": Weight.MUST, "expl": Weight.EXPL, "read": Weight.READ}
_AT = re.compile(
    r"^(Row [\d,]+(: |, column “[^”]*”, )|“.*” in row [\d,]+, (column )?“?[^“”:]{0,200}”?[,:] )",
    re.DOTALL,
)
"""Where a finding stands, as its sentence begins with it; a table of examples says it already."""


def headline(deposit: Deposit, groups: Sequence[Mapping[str, Any]]) -> str:
    """Say in one line how a deposit stands."""
    if deposit.state == "opened":
        return str(_("Which files belong to this deposit?"))
    if deposit.state == "submitted":
        return str(_("Being checked"))
    if deposit.state == "discarded":
        return str(_("Discarded"))
    things = {group["kind"]: len(group["findings"]) for group in groups}
    must, explain = things.get("must", 0), things.get("expl", 0)
    parts = []
    if must:
        said = ngettext("%(number)s thing to put right", "%(number)s things to put right", must)
        parts.append(said % {"number": number_said(must)})
    if explain:
        parts.append(str(_("%(number)s to explain") % {"number": number_said(explain)}))
    first = {"valid": _("Checked and sound"), "invalid": _("Checked")}.get(
        deposit.verdict, _("Not checked to the end")
    )
    if deposit.state == "accepted":
        first = _("Accepted")
    return f"{first}: {', '.join(parts)}" if parts else str(first)


def rows_must(summary: Mapping[str, Any]) -> str:
    """Say how many rows have a fault that must be put right; nothing where no row has one."""
    rows = summary.get("rows_found", {}).get(Group.TABLE.value, 0)
    if not rows:
        return ""
    whole = sum(table["rows"] for table in summary["tables"])
    said = ngettext(
        "%(rows)s row of %(whole)s has a fault.", "%(rows)s rows of %(whole)s have a fault.", rows
    )
    return said % {"rows": number_said(rows), "whole": number_said(whole)}


def numbered(summary: Mapping[str, Any]) -> Iterator[tuple[int, str, Mapping[str, Any]]]:
    """Give each entry of a report in the page's order, with its number and the kind of its group.

    What is suspected to be the cause of an entry stands in it as "cause".
    """
    suspicions = suspicions_of(summary)
    number = 0
    for group, kind, *_rest in KINDS:
        for entry in summary.get("entries", []):
            if entry["group"] == group.value:
                number += 1
                yield number, kind, {**entry, "cause": _cause_of(entry, suspicions)}


def groups_of(
    summary: Mapping[str, Any], breaches: Mapping[str, str] | None = None
) -> list[dict[str, Any]]:
    """Give the findings in their three groups, as the page shows them."""
    paths = {table["name"]: table["path"] for table in summary.get("tables", [])}
    shown: dict[str, list[dict[str, Any]]] = {kind: [] for _group, kind, *_rest in KINDS}
    for number, kind, entry in numbered(summary):
        where = paths.get(entry["table"], entry["table"])
        shown[kind].append(_shown(number, entry, where, (breaches or {}).get(entry["code"], "")))
    return [
        {
            "kind": kind,
            "heading": heading,
            "remark": remark,
            "intro": intro,
            "findings": shown[kind],
        }
        for _group, kind, heading, remark, intro in KINDS
    ]


def _shown(number: int, entry: Mapping[str, Any], where: str, breach: str) -> dict[str, Any]:
    code, kept, cause = entry["code"], entry["examples"], entry["cause"]
    is_one = entry["count"] == 1
    rows = [
        {
            "row": one["row"],
            "column": one["field"],
            "value": one["value"],
            "is_blank": not one["value"] and code in _ABOUT_CELLS,
            "say": _AT.sub("", one["message"]),
        }
        for one in kept
        # A finding without row or value is said whole above the table.
        if one["row"] and (one["value"] or not is_one)
    ]
    return {
        "number": number,
        "title": titled(entry),
        "says": _one_said(kept[0], where) if is_one else _said(entry, where),
        "cause": cause,
        "todo": cause["remedy"] if cause else entry["remedy"],
        "breach": breach,
        "say_head": _("What is wrong"),
        "is_brief": True,
        "has_columns": len({row["column"] for row in rows}) > 1,
        "rows": rows,
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


_ABOUT_CELLS = frozenset({"constraint-error", "null-in-key", "missing-cell", "type-error"})
"""Findings about one cell, of which an empty value says that the cell is blank."""


def titled(entry: Mapping[str, Any]) -> str:
    """Give the title, with the column where it is one; two of them are never called alike."""
    code = entry["code"]
    title = CODES[code].title if code in CODES else code
    return f"{title}: {entry['field']}" if entry["field"] else title


def _one_said(finding: Mapping[str, Any], where: str) -> str:
    """Say one finding, with the file where its sentence does not name it."""
    said = str(finding["message"])
    return said if not where or where in said else f"{where}: {said}"


def _said(entry: Mapping[str, Any], where: str) -> str:
    """Say how many there are, in which column, and in which rows."""
    if entry["code"] in TOGETHER:
        return ngettext(
            "%(number)s column of %(file)s.", "%(number)s columns of %(file)s.", entry["count"]
        ) % {"number": number_said(entry["count"]), "file": where}
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


def places_of(summary: Mapping[str, Any]) -> Places | None:
    """Draw where in the files the findings lie; nothing where none has a row."""
    where: dict[str, list[Place]] = {}
    for number, kind, entry in numbered(summary):
        # Row 1 is the heading; the band counts the rows under it.
        runs = [(first - 1, last - 1) for first, last in entry["runs"] if last > 1]
        where.setdefault(entry["table"], []).extend(
            Place(number, _WEIGHTS[kind], max(1, first), last) for first, last in runs
        )
    files = [
        CheckedFile(table["path"], table["rows"], tuple(where[table["name"]]))
        for table in summary.get("tables", [])
        if table["rows"] and where.get(table["name"])
    ]
    return places(files) if files else None


# ------------------------------------------------------------------------------ what is suspected


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
            "previewed": (one["trial"] or {}).get("first", [])[:PREVIEWED],
        }
        for number, one in enumerate(summary.get("suspicions", []), start=1)
    ]


def together(suspicions: Sequence[Mapping[str, Any]]) -> list[int]:
    """Give the numbers of the corrections that may be made in one go; none where it is just one.

    Two files that bear each other's name are swapped first: what else is wrong shows only then.
    """
    mendable = [one for one in suspicions if one["is_mendable"]]
    if len(mendable) < 2 or any(one["correction"]["kind"] == "swap_files" for one in mendable):
        return []
    return [one["number"] for one in mendable]


def _cause_of(
    entry: Mapping[str, Any], suspicions: Sequence[Mapping[str, Any]]
) -> Mapping[str, Any] | None:
    """Give the suspicion that explains an entry: of the whole file, or of its column's rows."""
    if entry["group"] != Group.TABLE.value:
        return None
    columns = {name for one in entry["examples"] for name in one["field"].split(", ")}
    rows = {one["row"] for one in entry["examples"]}
    for one in suspicions:
        if one["table"] != entry["table"]:
            continue
        is_of_file = not one["columns"] and (not one["rows"] or one["kind"] in _OF_FILES)
        if is_of_file or (
            rows & set(one["rows"]) and (not one["columns"] or columns & set(one["columns"]))
        ):
            return one
    return None


_OF_FILES = frozenset(
    {"no-heading", "other-encoding", "shifted-heading", "swapped-tables", "wrong-delimiter"}
)
"""Causes that explain whatever else is found in the file."""


def _runs(rows: Iterable[int]) -> list[list[int]]:
    runs: list[list[int]] = []
    for row in rows:
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    return runs
