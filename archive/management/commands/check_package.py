"""Check a data package on disk, without the database."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from archive.engine.package import EXIT_CODES, as_json, as_text, check_path


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

    def handle(self, *_args: Any, **options: Any) -> None:
        report = check_path(options["path"])
        if options["json"]:
            text = json.dumps(as_json(report), ensure_ascii=False, indent=2)
        else:
            text = as_text(report)
        self.stdout.write(text)
        sys.exit(EXIT_CODES[report.verdict])
