"""The dated lists of reference data: where they lie, what their rows are, reading them."""

import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import models
from django.utils.translation import gettext as said
from django.utils.translation import gettext_lazy as _

from registry.animals.models import Taxon
from registry.approvals.models import PermissionKind
from registry.errors import Unsound
from registry.oversight.models import RetentionRule, ReturnCategory
from registry.people.models import BodyKind, Training
from registry.permissions import Verb
from registry.projects.models import Procedure
from registry.web import Words

FOLDER = settings.ROOT / "fixtures" / "vocabulary"
WHAT = "Nothing was loaded."


@dataclass(frozen=True)
class Kind:
    """One list: its file, what its rows are, what tells one from another, and what it is for.

    `verb` is the deed that a row stands for, where people do that deed too; `url` is the page that
    shows the rows, where there is one.
    """

    name: str
    title: Words
    use: Words
    model: type[models.Model]
    key: str
    verb: Verb | None = None
    url: str = ""

    @property
    def file_name(self) -> str:
        """The name of its file."""
        return f"{self.name}.json"


KINDS: tuple[Kind, ...] = (
    Kind(
        "taxa",
        _("taxa"),
        _("Kinds of animal, and the class by which rules on protected animals know them."),
        Taxon,
        "scientific_name",
        Verb.TAXON_ADD,
        "animals:taxa",
    ),
    Kind(
        "procedures",
        _("procedures"),
        _("What is done with animals, with its usual severity and caution."),
        Procedure,
        "code",
    ),
    Kind(
        "trainings",
        _("trainings"),
        _("What people are trained in by name, for the house to ask before a procedure."),
        Training,
        "code",
        None,
        "oversight:training_rules",
    ),
    Kind(
        "permission_kinds",
        _("kinds of permission"),
        _("What a project must say it needs, or why not."),
        PermissionKind,
        "code",
    ),
    Kind(
        "bodies",
        _("kinds of body"),
        _("Bodies that decide, with where each is known."),
        BodyKind,
        "code",
        None,
        "bodies",
    ),
    Kind(
        "return_categories",
        _("categories of the yearly return"),
        _("Species, purposes and places of birth, as a regulator asks for them from a year on."),
        ReturnCategory,
        "code",
    ),
    Kind(
        "retention",
        _("times of retention"),
        _("How long which records are kept at least."),
        RetentionRule,
        "code",
        None,
        "oversight:retention",
    ),
)


@dataclass(frozen=True)
class Listed:
    """One list as its file holds it."""

    kind: Kind
    dated: date
    source: str
    rows: tuple[dict[str, Any], ...]


def read_lists(folder: Path = FOLDER) -> list[Listed]:
    """Read every list of a folder.

    Raises
    ------
    Unsound
        Where one is not there, or does not hold what a list must.
    """
    return [_read(folder / kind.file_name, kind) for kind in KINDS]


def _read(path: Path, kind: Kind) -> Listed:
    name = path.name
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise Unsound(
            WHAT,
            said("%(name)s is not there.") % {"name": name},
            said("Put the list into %(parent)s, or name its folder.") % {"parent": path.parent},
        ) from None
    except ValueError as problem:
        raise Unsound(
            WHAT,
            said("%(name)s is no JSON: %(problem)s.") % {"name": name, "problem": problem},
            "Mend the file and load it again.",
        ) from problem
    wanted = {"dated", "source", "rows"}
    if not isinstance(held, dict) or not wanted <= set(held):
        raise Unsound(
            WHAT,
            said("%(name)s must hold “dated”, “source” and “rows”.") % {"name": name},
            "Mend the file.",
        )
    try:
        dated = date.fromisoformat(str(held["dated"]))
    except ValueError:
        raise Unsound(
            WHAT,
            said("%(name)s is dated “%(held)s”.") % {"name": name, "held": held["dated"]},
            "Write the day such as 2026-11-24.",
        ) from None
    return Listed(kind, dated, str(held["source"]), tuple(held["rows"]))
