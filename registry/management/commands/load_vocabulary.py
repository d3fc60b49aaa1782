"""Load the dated lists of reference data: taxa, procedures, kinds of permission."""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import models, transaction

from registry.animals.models import Taxon
from registry.approvals.models import PermissionKind
from registry.ledger.actions import record
from registry.people.models import the_clock
from registry.permissions import Verb
from registry.projects.models import Procedure

LISTS: tuple[tuple[str, type[models.Model], str, Verb | None], ...] = (
    ("taxa.json", Taxon, "scientific_name", Verb.TAXON_ADD),
    ("procedures.json", Procedure, "code", None),
    ("permission_kinds.json", PermissionKind, "code", None),
)
"""File, what its rows are, what tells one row from another, and the deed that a row stands for."""


class Command(BaseCommand):
    """Load every list; what is there already is brought up to date, and nothing is taken away."""

    help = "Load the reference data of fixtures/vocabulary; a second run changes nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--folder",
            type=Path,
            default=settings.ROOT / "fixtures" / "vocabulary",
            help="where the lists are (default: fixtures/vocabulary)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        folder: Path = options["folder"]
        with transaction.atomic():
            for name, model, key, verb in LISTS:
                listed = _read(folder / name)
                new, changed = _load(model, key, verb, listed, name)
                self.stdout.write(
                    f"{name}, {listed['dated']}: {len(listed['rows'])} rows, "
                    f"{new} new, {changed} changed"
                )


def _read(path: Path) -> dict[str, Any]:
    """Give a list as it stands in its file."""
    try:
        listed = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise CommandError(
            f"{path} is not there. Nothing was loaded. Put the list there, or name another folder "
            "with --folder."
        ) from None
    except json.JSONDecodeError as problem:
        raise CommandError(
            f"{path} is no JSON: {problem}. Nothing was loaded. Mend the file and run this again."
        ) from problem
    wanted = {"dated", "source", "rows"}
    if not isinstance(listed, dict) or not wanted <= set(listed):
        raise CommandError(
            f"{path} must hold “dated”, “source” and “rows”. Nothing was loaded. Mend the file."
        )
    return listed


def _load(
    model: type[models.Model], key: str, verb: Verb | None, listed: dict[str, Any], name: str
) -> tuple[int, int]:
    """Write the rows that are new or changed, and give how many there were of each."""
    new = changed = 0
    for number, given in enumerate(listed["rows"], 1):
        row = {**_from(model, listed), **given}
        found = model._default_manager.filter(**{key: row.get(key)}).first()
        if found is not None and all(getattr(found, field) == row[field] for field in row):
            continue
        written = found or model()
        try:
            for field, value in row.items():
                model._meta.get_field(field)
                setattr(written, field, value)
            written.full_clean()
        except (ValidationError, FieldDoesNotExist) as problem:
            raise CommandError(
                f"{name}, row {number}: {problem}. Nothing was loaded. Mend the row."
            ) from problem
        written.save()
        new, changed = new + (found is None), changed + (found is not None)
        if verb is not None:
            record(verb, written, by=the_clock(), vocabulary=listed["dated"])
    return new, changed


def _from(model: type[models.Model], listed: dict[str, Any]) -> dict[str, str]:
    """Give the list's own source for the rows that name none."""
    if all(field.name != "source" for field in model._meta.get_fields()):
        return {}
    return {"source": f"{listed['source']} ({listed['dated']})"}
