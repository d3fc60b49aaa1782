"""The child that opens what strangers sent: options as JSON come in, one answer goes out.

Started as ``python -m archive.engine.intake.child`` by ``archive.engine.intake.watch``; its limits
are set before it reads a byte of the file.
"""

import sys
from pathlib import Path
from typing import Any

from archive.engine.intake.converting import convert_here
from archive.engine.intake.proposing import look
from archive.engine.intake.recipe import Recipe
from archive.engine.limits import Limits
from registry.guarded.child import answer_once


def main() -> int:
    """Propose or convert as the options on standard input say."""
    return answer_once(_answer, lambda options: Limits.from_dict(options["limits"]))


def _answer(options: dict[str, Any]) -> dict[str, Any]:
    limits = Limits.from_dict(options["limits"])
    return _convert(options, limits) if options["out"] else _propose(options, limits)


def _propose(options: dict[str, Any], limits: Limits) -> dict[str, Any]:
    last = Recipe.from_json(options["recipe"]) if options["recipe"] else None
    made = look(
        Path(options["path"]), options["name"], options["table"], last, options["answers"], limits
    )
    return {"proposal": made.as_dict()}


def _convert(options: dict[str, Any], limits: Limits) -> dict[str, Any]:
    recipe = Recipe.from_json(options["recipe"])
    made = convert_here(Path(options["path"]), recipe, Path(options["out"]), limits)
    return {"converted": made.as_dict()}


if __name__ == "__main__":
    sys.exit(main())
