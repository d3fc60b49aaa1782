"""Has a child propose or convert, with limits of memory, computing and time."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from archive.engine.intake.converting import Converted
from archive.engine.intake.decisions import Proposal
from archive.engine.intake.recipe import Recipe
from archive.engine.limits import Limits
from registry.errors import Refusal, Unsound
from registry.guarded.asking import ask

CHILD = "archive.engine.intake.child"
MOST_S = 240
"""A person waits for it: less than a request may take."""
DEFAULT_LIMITS = Limits()
_PLAIN = "Save the sheet as CSV (UTF-8), with only the data, and send that."


def propose(
    path: Path,
    name: str,
    table: Mapping[str, Any] | None,
    last: Recipe | None = None,
    *,
    answers: Mapping[str, str] | None = None,
    limits: Limits = DEFAULT_LIMITS,
) -> Proposal:
    """Look at a file in a child, and propose each decision with its reason.

    Parameters
    ----------
    path : Path
        The file.
    name : str
        Its name as it was sent.
    table : mapping or None
        The dictionary's table that it is to become, with its schema.
    last : Recipe or None
        The recipe of last time.
    answers : mapping of key to value
        What the person has chosen so far.
    limits : Limits
        For the file, and for the child; it gets 240 s at most.

    Raises
    ------
    Unsound, TooLarge
        When the file cannot be read, is over a limit, or took the child too much.
    """
    options = {
        "path": str(path.resolve()),
        "name": name,
        "table": dict(table) if table is not None else None,
        "recipe": last.as_json() if last is not None else "",
        "answers": dict(answers or {}),
        "out": "",
    }
    return Proposal.from_dict(_ask(options, limits)["proposal"])


def convert(path: Path, recipe: Recipe, out: Path, *, limits: Limits = DEFAULT_LIMITS) -> Converted:
    """Repeat a recipe on a file in a child; the same bytes always give the same bytes.

    Parameters
    ----------
    path, out : Path
        The file, and where the result is to stand; there may be nothing yet.
    recipe : Recipe
        What was confirmed.
    limits : Limits
        For the file, and for the child; it gets 240 s at most.

    Raises
    ------
    Unsound, TooLarge
        When the file no longer fits the recipe, or is over a limit. Nothing is left then.
    """
    options: dict[str, Any] = {
        "path": str(path.resolve()),
        "name": path.name,
        "table": None,
        "recipe": recipe.as_json(),
        "answers": {},
        "out": str(out.resolve()),
    }
    try:
        return Converted.from_dict(_ask(options, limits)["converted"])
    except Refusal:
        with suppress(FileNotFoundError):
            out.unlink()
        raise


def _ask(options: dict[str, Any], limits: Limits) -> dict[str, Any]:
    limits = replace(limits, wall_s=min(limits.wall_s, MOST_S), cpu_s=min(limits.cpu_s, MOST_S))
    return ask(CHILD, {**options, "limits": limits.as_dict()}, limits, next=_PLAIN)


__all__ = ["DEFAULT_LIMITS", "Converted", "Unsound", "convert", "propose"]
