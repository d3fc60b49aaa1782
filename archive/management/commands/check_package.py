"""Check a data package on disk, without the database."""

import json
import shutil
import sys
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from archive.engine.causes import FaultsByTable, Suspicion, suspect
from archive.engine.causes.suspecting import tables_of
from archive.engine.mended_copy import write_mended
from archive.engine.package import EXIT_CODES, as_json, as_text, check_path
from archive.engine.reports import Report
from archive.exports.annotated import Annotated, annotate, write_workbook
from archive.findings_out import rows_of
from registry.errors import Unsound


class Command(BaseCommand):
    help = (
        "Check a data package on disk: a folder, a datapackage.json, or a zip. Needs no database."
        " Exit code 0: valid; 1: findings; 2: it could not be read or not be checked to its end."
    )
    requires_system_checks = ()
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("path", type=Path, help="the package")
        parser.add_argument("--json", action="store_true", help="write the report as JSON")
        parser.add_argument("--csv", type=Path, metavar="FILE", help="write the findings there too")
        parser.add_argument(
            "--annotated",
            type=Path,
            metavar="FILE.xlsx",
            help="write a workbook of the tables there too, the findings beside their rows",
        )

        parser.add_argument(
            "--mend",
            type=Path,
            metavar="FOLDER",
            help="write a copy with every safe correction made there; the package stays as it is",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        told: list[Suspicion] = []

        def look(folder: Path, report: Report) -> None:
            faults = FaultsByTable(report.findings)
            told.extend(suspect(folder, faults, today=date.today()))  # noqa: DTZ011  # why: where the command runs
            if options["annotated"]:
                _annotate(folder, report, options["annotated"])
            if options["mend"]:
                _mend(folder, told, options["mend"])

        for target in (options["csv"], options["annotated"], options["mend"]):
            if target is not None and target.exists():
                raise CommandError(f"{target} is there already; name a file that is not.")
        report = check_path(options["path"], after=look)
        if options["csv"]:
            with options["csv"].open("w", encoding="utf-8", newline="") as out:
                out.writelines(rows_of(report.findings))
        if options["json"]:
            text = json.dumps(as_json(report, told), ensure_ascii=False, indent=2)
        else:
            text = as_text(report, told)
        self.stdout.write(text)
        sys.exit(EXIT_CODES[report.verdict])


def _mend(folder: Path, suspicions: list[Suspicion], target: Path) -> None:
    try:
        write_mended(folder, suspicions, target)
    except Unsound as refusal:
        shutil.rmtree(target, ignore_errors=True)
        raise CommandError(f"{refusal.what} {refusal.why} {refusal.next}") from None


def _annotate(folder: Path, report: Report, target: Path) -> None:
    tables = [Annotated(one.name, one.path, one.layout) for one in tables_of(folder)]
    if tables:
        write_workbook(annotate(tables, report.findings), target)
