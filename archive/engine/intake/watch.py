"""Has a child propose or convert, with limits of memory, computing and time."""

import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

from archive.engine.intake.converting import Converted
from archive.engine.intake.decisions import Proposal
from archive.engine.intake.recipe import Recipe
from archive.engine.limits import Limits, span
from registry import errors
from registry.errors import Refusal, TooLarge, Unsound

ROOT = Path(__file__).resolve().parents[3]
COMMAND = (sys.executable, "-P", "-m", "archive.engine.intake.child")
OUT_OF_MEMORY = 77
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
    """Start the child and give its answer; a refusal of its is raised here."""
    limits = replace(limits, wall_s=min(limits.wall_s, MOST_S), cpu_s=min(limits.cpu_s, MOST_S))
    sent = {**options, "limits": limits.as_dict(), "parent": os.getpid()}
    with tempfile.TemporaryDirectory(prefix="intake-") as room:
        try:
            done = subprocess.run(
                COMMAND,
                input=json.dumps(sent),
                cwd=room,
                env=_surroundings(room),
                capture_output=True,
                text=True,
                encoding="utf-8",
                check=False,
                timeout=limits.wall_s,
                start_new_session=True,
            )
        except subprocess.TimeoutExpired:
            raise _stopped(f"It took longer than {span(limits.wall_s)} and was stopped.") from None
    if done.returncode:
        raise _stopped(_reason(done.returncode, done.stderr.strip(), limits))
    told: dict[str, Any] = json.loads(done.stdout)
    if refused := told.get("refused"):
        kind: type[Refusal] = getattr(errors, refused["kind"])
        raise kind(refused["what"], refused["why"], refused["next"], fields=refused.get("fields"))
    return told


def _surroundings(room: str) -> dict[str, str]:
    """Hand the child no settings and no secrets, only what an interpreter needs."""
    kept = {name: os.environ[name] for name in ("PATH", "LANG", "LC_ALL") if name in os.environ}
    return kept | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "HOME": room, "TMPDIR": room}


def _stopped(why: str) -> TooLarge:
    return TooLarge("The file was not read.", why, _PLAIN)


def _reason(code: int, said: str, limits: Limits) -> str:
    if code == -signal.SIGXCPU:
        return f"It used up {span(limits.cpu_s)} of computing and was stopped."
    # A library that gets no memory aborts rather than raise.
    if code in {OUT_OF_MEMORY, -signal.SIGABRT} or "MemoryError" in said:
        memory = f"{limits.memory_bytes / 1024**3:.3g} GB"
        return f"It needed more than {memory} of memory and was stopped."
    last = said.splitlines()[-1] if said else "it said nothing"
    return f"Reading it broke off (exit code {code}): {last}"


__all__ = ["DEFAULT_LIMITS", "Converted", "Unsound", "convert", "propose"]
