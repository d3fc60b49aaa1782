"""Intake of a deposit's file: what is proposed for it, and the table that is made of it."""

import hashlib
import json
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.utils.translation import gettext as _

from archive import actions
from archive.dictionaries import tables_of
from archive.engine.descriptor import WORKBOOKS
from archive.engine.intake import Proposal, Recipe, convert, propose
from archive.engine.intake.building import recipe_of
from archive.models import Deposit, DepositFile, IntakeRecipe
from archive.places import check_limits
from archive.rounds import give_back, path_of, take_in
from registry.errors import Refusal, Unsound
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import follows

ENDINGS = WORKBOOKS | {"csv", "tsv", "tab", "txt"}
_STRUCTURE = ("encoding", "delimiter", "quote", "sheet", "header")


@dataclass(frozen=True)
class Intake:
    """One look at a file: the proposal, the recipe of last time if there is one, and its mark.

    `mark` changes where the columns are cut otherwise, so that answers about columns that someone
    looked at are never taken for others.
    """

    file: DepositFile
    table: str
    tables: tuple[str, ...]
    proposal: Proposal
    last: IntakeRecipe | None
    is_same: bool

    @property
    def result_name(self) -> str:
        """Give the name of the file that comes of it."""
        return f"{_named(self.table)}.csv"

    @property
    def replaces(self) -> DepositFile | None:
        """Give the other file whose place the result takes, if there is one."""
        live = self.file.deposit.files.filter(is_dropped=False, name=self.result_name)
        return live.exclude(pk=self.file.pk).first()

    @property
    def mark(self) -> str:
        """Give the mark of how the columns are cut."""
        given = [one.chosen for one in self.proposal.decisions if one.key in _STRUCTURE]
        text = json.dumps([given, self.proposal.labels, self.table])
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def is_for_intake(name: str) -> bool:
    """Whether a file of this name may be made into a table."""
    return name.rpartition(".")[2].lower() in ENDINGS


def is_named_workbook(name: str) -> bool:
    """Whether a file of this name is a workbook, which no check reads as it is."""
    return name.rpartition(".")[2].lower() in WORKBOOKS


def tables_for(deposit: Deposit) -> dict[str, dict[str, Any]]:
    """Give the tables of the deposit's dictionary by name; none where it has no dictionary."""
    if deposit.dictionary is None:
        return {}
    return {str(one["name"]): one for one in tables_of(deposit.dictionary.descriptor)}


def last_recipe(deposit: Deposit, table: str) -> IntakeRecipe | None:
    """Give the newest recipe of the study's accepted deposits for this table."""
    study = deposit.dataset.project.study_id
    return (
        IntakeRecipe.objects.filter(
            table=table,
            source__deposit__dataset__project__study=study,
            source__deposit__state="accepted",
        )
        .select_related("source__deposit__dataset__project", "made_by")
        .first()
    )


def intake(
    deposit: Deposit,
    file: DepositFile,
    *,
    table: str = "",
    is_same: bool = False,
    answers: Mapping[str, str] | None = None,
) -> Intake:
    """Look at a file of a deposit, in a child, and propose what becomes of it.

    Raises
    ------
    Unsound, TooLarge
        When the file cannot be read, or the dictionary has no such table.
    """
    tables = tables_for(deposit)
    name = table or _likely(file.name, list(tables))
    if tables and name not in tables:
        raise Unsound(
            "Nothing was proposed.",
            _("The dictionary has no table “%(name)s”.") % {"name": name},
            _("Choose one of %(tables)s.") % {"tables": ", ".join(tables)},
            fields={"table": "It is not in the dictionary."},
        )
    last = last_recipe(deposit, name) if name else None
    made = propose(
        path_of(file),
        file.name,
        tables.get(name),
        Recipe.from_json(json.dumps(last.recipe)) if last is not None and is_same else None,
        answers=answers,
        limits=check_limits(),
    )
    return Intake(file, made.table, tuple(tables), made, last, is_same and last is not None)


def _likely(file: str, tables: list[str]) -> str:
    """Give the table that is named like the file, else the first one."""
    stem = file.rpartition(".")[0].lower().replace("_", "-")
    for table in tables:
        plain = table.lower().replace("_", "-")
        if plain == stem:
            return table
    within = [table for table in tables if table.lower() in stem]
    return (within or tables or [""])[0]


def convert_file(
    deposit: Deposit, found: Intake, *, answers: Mapping[str, str], mark: str = "", by: Person
) -> DepositFile:
    """Make the table by the confirmed choices: bytes first, then the deed.

    Raises
    ------
    Unsound
        When something asked was not answered, or the columns were cut otherwise when one looked.
    """
    require(by, Verb.DEPOSIT_CONVERT, deposit)
    follows(deposit, "convert")
    if mark and mark != found.mark:
        raise Unsound(
            "The file was not converted.",
            "By these choices the columns are cut otherwise than on the page that you looked at.",
            "Look at the new preview, and confirm again.",
        )
    recipe = recipe_of(found.proposal, answers)
    kept = []
    with tempfile.TemporaryDirectory(prefix="intake-") as room:
        out = Path(room) / "table.csv"
        converted = convert(path_of(found.file), recipe, out, limits=check_limits())
        try:
            with out.open("rb") as stream:
                kept.append(take_in(deposit, found.result_name, stream))
            return actions.convert_file(
                deposit,
                file=found.file,
                kept=kept[0],
                recipe=recipe,
                converted=converted,
                by=by,
            )
        except Refusal:
            give_back(kept)
            raise


def _named(table: str) -> str:
    plain = (sign if sign.isascii() and (sign.isalnum() or sign in "_-") else "-" for sign in table)
    return "".join(plain).strip("-_") or "table"
