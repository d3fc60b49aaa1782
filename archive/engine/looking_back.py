"""A look back at a finished check: its findings gathered in one pass, and their causes sought."""

import traceback
from datetime import date
from pathlib import Path
from typing import Any

from archive.engine.causes import FaultsByTable, suspect
from archive.engine.facts import RegisterFacts
from archive.engine.gathering import Gathered, told_of
from archive.engine.limits import Limits
from archive.engine.reports import Report, Told


def look_back(
    folder: Path,
    report: Report,
    *,
    expected: dict[str, Any] | None,
    facts: RegisterFacts | None,
    today: date,
    limits: Limits,
) -> Told:
    """Put together what is told of a report; a cause that breaks takes nothing else from it.

    Parameters
    ----------
    folder : Path
        The package, as it was checked.
    report : Report
        Its findings are read once.
    expected, facts, today, limits
        As `archive.engine.causes.suspect` takes them.

    Returns
    -------
    Told
    """
    gathered, faults = Gathered(), FaultsByTable()
    for finding in report.findings:
        gathered.take(finding)
        faults.take(finding)
    try:
        suspicions = suspect(
            folder, faults, expected=expected, facts=facts, today=today, limits=limits
        )
    except (ArithmeticError, AttributeError, LookupError, OSError, TypeError, ValueError):
        return told_of(report, gathered, fault=traceback.format_exc())
    return told_of(report, gathered, suspicions)
