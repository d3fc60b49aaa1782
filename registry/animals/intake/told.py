"""What a trial of a file tells: findings for the page, and the same for a program."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from registry.animals.intake.dates import Order
from registry.animals.intake.reading import BOOK, Fault
from registry.animals.intake.weighing import NEW, Outcome, Trial
from registry.saying import number_said

FIRST_ROWS = 50
MOST_TOLD = 1_000
KINDS: dict[str, tuple[str, str]] = {
    "blank": ("Something is missing", "A cell that must be filled is blank."),
    "taxon": ("A taxon is not in the register", "Taxa are told apart by their scientific names."),
    "word": ("A word is not on its list", "Some columns take the words of a list alone."),
    "day": ("A day does not hold", "It could not be read, is to come, or lies before the birth."),
    "number": ("A number does not hold", "Numbers of animals are whole, and not below nought."),
    "chip": ("A chip does not hold", "Its code is unsound, or another animal bears it."),
    "owner": ("An owner is not in the register", "Owners are institutions of the register."),
    "parent": (
        "A parent cannot be",
        "It is not known, of the wrong sex or kind, born too late, or its own descendant.",
    ),
    "enclosure": (
        "An enclosure did not exist then",
        "Nothing lives in an enclosure before the day on which it was opened.",
    ),
    "group": ("A group has what only an animal has", "Animals of a group are not told apart."),
    "twice": ("The same stands there twice", "No two rows may bear the same code or chip."),
    "long": ("A cell is too long", "It would not fit into the register."),
    "beyond": ("A cell stands outside every column", "The row has more cells than the first row."),
}
"""In this order on the page: kind, title, what it means."""


@dataclass(frozen=True)
class Finding:
    """One kind of fault with its rows, as the part of the page for findings shows it."""

    number: int
    title: str
    says: str
    rows: list[dict[str, Any]]
    more: str
    say_head: str = "What to do"
    todo: str = ""
    breach: str = ""
    note: str = ""


def findings(trial: Trial) -> list[dict[str, Any]]:
    """Give the faults of a file in their groups."""
    order = list(KINDS)
    faults = sorted(trial.faults, key=lambda fault: (order.index(fault.kind), fault.row or 0))
    found = [
        _finding(number, kind, list(rows), trial.sheet.file_name)
        for number, (kind, rows) in enumerate(groupby(faults, key=lambda one: one.kind), start=1)
    ]
    intro = "Nothing can be brought in before these are mended in the file; nothing is lost."
    return [
        {"kind": "must", "heading": "To put right", "remark": "", "intro": intro, "findings": found}
    ]


def _finding(number: int, kind: str, faults: list[Fault], file_name: str) -> Finding:
    title, says = KINDS[kind]
    left = len(faults) - FIRST_ROWS
    return Finding(
        number=number,
        title=title,
        says=says,
        rows=[
            {
                "file": file_name,
                "row": fault.row,
                "column": fault.column,
                "unit": "",
                "value": fault.value,
                "say": fault.say,
            }
            for fault in faults[:FIRST_ROWS]
        ],
        more=f"And {number_said(left)} more of the same." if left > 0 else "",
    )


def how_read(trial: Trial) -> list[tuple[str, str]]:
    """Say how the file was read, so that a wrong reading is seen before anything is written."""
    sheet = trial.sheet
    said = [
        ("Letters", sheet.encoding_said),
        ("Between cells", sheet.separator_said),
        *(
            (f"Days of {name}", _order_said(reading))
            for name, reading in trial.days.items()
            if any(name in line.cells for line in sheet.lines)
        ),
    ]
    if sheet.encoding == BOOK:
        said[:2] = [("File", sheet.encoding_said)]
    if sheet.encoding == "cp1252":
        said[0] = ("Letters", f"{sheet.encoding_said}, for it is not UTF-8: look at the accents")
    if sheet.unread:
        said.append(("Columns not read", ", ".join(sheet.unread)))
    return said


def _order_said(reading: Any) -> str:
    if reading.is_asked:
        return "day and month could be either way round"
    if reading.order is Order.MONTH_FIRST:
        said = "month/day/year"
    else:
        said = "day/month/year, or year-month-day"
    if reading.shown_by is None:
        return said
    row, shown = reading.shown_by
    return f"{said}, as row {row} shows: {shown}"


def faults_by_field(faults: Iterable[Fault]) -> dict[str, str]:
    """Give the first faults by row and column, for a refusal's fields."""
    told: dict[str, str] = {}
    for fault in faults:
        if len(told) == FIRST_ROWS:
            break
        told.setdefault(f"row {fault.row}, {fault.column or 'beyond the last column'}", fault.say)
    return told


def as_dict(trial: Trial) -> dict[str, Any]:
    """Give a trial as a program reads it."""
    return {
        "sha256": trial.sheet.sha256,
        "seen": trial.seen,
        "encoding": trial.sheet.encoding_said,
        "separator": trial.sheet.separator_said,
        "unread_columns": list(trial.sheet.unread),
        "asked": list(trial.asked),
        "rows": len(trial.rows),
        "new": trial.count(*NEW),
        "same": trial.count(Outcome.SAME),
        "differs": trial.count(Outcome.DIFFERS),
        "faulty": trial.count(Outcome.FAULTY),
        "unknown_taxa": [one.name for one in trial.taxa.values()],
        "unknown_enclosures": [one.name for one in trial.enclosures.values()],
        "faults": [
            {
                "row": fault.row,
                "column": fault.column,
                "value": fault.value,
                "why": KINDS[fault.kind][0],
                "next": fault.say,
            }
            for fault in trial.faults[:MOST_TOLD]
        ],
        "outcomes": [
            {"row": one.number, "code": one.code, "outcome": one.said} for one in trial.rows
        ],
    }
