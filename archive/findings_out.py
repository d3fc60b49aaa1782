"""The findings of a deposit to take away: as a table, as JSON, and beside the rows themselves."""

import csv
import json
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from django.utils.translation import gettext as _

from archive.engine.causes.suspecting import tables_of
from archive.engine.findings import Finding
from archive.engine.reports import read_findings
from archive.exports.annotated import Annotated, annotate, as_csv, write_workbook
from archive.models import Deposit
from archive.places import check_limits
from archive.rounds import package_of, room_of
from registry.errors import Unseen
from registry.guarded.cells import safe_cell

COLUMNS = ("group", "code", "table", "row", "field", "value", "message", "remedy")


def findings_file(deposit: Deposit) -> Path:
    """Give the file that holds every finding of the newest check.

    Raises
    ------
    Unseen
        When there was none.
    """
    kept = room_of(deposit) / "findings.jsonl"
    if not deposit.summary or not kept.is_file():
        raise Unseen(
            "This deposit has no findings.",
            "It was not checked in this round, or what was found was erased.",
            "Submit it to be checked.",
        )
    return kept


class Line:
    """Hands a CSV writer's line on."""

    def write(self, line: str) -> str:
        """Give it back."""
        return line


def findings_csv(kept: Path) -> Iterator[str]:
    """Stream the findings as CSV that a spreadsheet program opens without running anything."""
    yield from rows_of(read_findings(kept))


def rows_of(findings: Iterable[Finding]) -> Iterator[str]:
    """Write findings as lines of CSV."""
    writer = csv.writer(Line())
    yield writer.writerow(COLUMNS)
    for finding in findings:
        shape = finding.as_dict()
        cells = ["" if shape[name] is None else str(shape[name]) for name in COLUMNS]
        yield writer.writerow([safe_cell(cell) for cell in cells])


def findings_json(kept: Path) -> Iterator[str]:
    """Stream the findings as one JSON list."""
    yield "[\n"
    for number, finding in enumerate(read_findings(kept)):
        yield (",\n" if number else "") + json.dumps(finding.as_dict(), ensure_ascii=False)
    yield "\n]\n"


@dataclass(frozen=True)
class Form:
    """One form in which the findings are taken away."""

    write: Callable[[Path], Iterator[str]]
    media: str


FORMS = {
    "csv": Form(findings_csv, "text/csv"),
    "json": Form(findings_json, "application/json"),
}


def annotated(deposit: Deposit) -> list[Annotated]:
    """Give the tables of the newest check, with what stands beside their rows.

    Raises
    ------
    Unseen
        When it was not checked, or no table could be read.
    """
    kept = findings_file(deposit)
    expected = deposit.dictionary.descriptor if deposit.dictionary is not None else None
    tables = tables_of(package_of(deposit), expected=expected, limits=check_limits())
    if not tables:
        raise Unseen(
            "There is no copy with the findings beside the rows.",
            "No table of the package could be told from its description.",
            "Take the list of findings, and put the description right first.",
        )
    given = [Annotated(one.name, one.path, one.layout) for one in tables]
    return annotate(given, read_findings(kept))


def annotated_csv(deposit: Deposit, name: str) -> Iterator[bytes]:
    """Stream one table with its findings beside the rows.

    Raises
    ------
    Unseen
        When there is no such table.
    """
    for table in annotated(deposit):
        if table.name == name:
            return as_csv(table)
    raise Unseen(
        _("There is no table “%(name)s”.") % {"name": name},
        "The deposit does not hold it.",
        "Look at its report.",
    )


def annotated_workbook(deposit: Deposit) -> IO[bytes]:
    """Give an open workbook of the tables with their findings; closing it removes it."""
    tables = annotated(deposit)
    with tempfile.TemporaryDirectory(prefix="annotated-") as room:
        target = Path(room) / "annotated.xlsx"
        write_workbook(tables, target)
        return target.open("rb")
