"""Start a child on a stranger's file, and give its answer, or the reason why there is none."""

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from registry import errors
from registry.errors import Conflict, TooLarge
from registry.guarded.child import OUT_OF_MEMORY
from registry.guarded.limits import Room
from registry.guarded.sizes import span

ROOT = Path(__file__).resolve().parents[2]
TURNS = threading.BoundedSemaphore(3)
"""Files that one server looks through at once: the other threads go on answering pages."""
WAIT_S = 15.0


def ask(module: str, options: Mapping[str, Any], room: Room, *, next: str) -> dict[str, Any]:
    """Run a module as a child with limits, and give the one line of JSON that it says.

    Parameters
    ----------
    module : str
        It reads the options as JSON from standard input, confines itself, and tells once.
    options : mapping
        What JSON can hold; `parent`, the number of this process, is added.
    room : Room
        What it may use. Its memory and computing it sets itself; the clock is kept here.
    next : str
        What the person does where the child was stopped.

    Raises
    ------
    Conflict
        When others' files are being looked through, and none of them was done in time.
    TooLarge
        When it was stopped or broke off: the sentence says at which limit.
    Refusal
        The child's own, where it told one as ``{"refused": {...}}``.
    """
    with _turn(), tempfile.TemporaryDirectory(prefix="guarded-") as place:
        try:
            done = subprocess.run(
                (sys.executable, "-P", "-m", module),
                input=json.dumps({**options, "parent": os.getpid()}),
                cwd=place,
                env=_surroundings(place),
                capture_output=True,
                text=True,
                encoding="utf-8",
                check=False,
                timeout=room.wall_s,
                start_new_session=True,
            )
        except subprocess.TimeoutExpired:
            why = f"It took longer than {span(room.wall_s)} and was stopped."
            raise TooLarge("The file was not read.", why, next) from None
    if done.returncode:
        why = _reason(done.returncode, done.stderr.strip(), room)
        raise TooLarge("The file was not read.", why, next)
    told: dict[str, Any] = json.loads(done.stdout)
    if refused := told.get("refused"):
        kind: type[errors.Refusal] = getattr(errors, refused["kind"])
        raise kind(refused["what"], refused["why"], refused["next"], fields=refused.get("fields"))
    return told


@contextmanager
def _turn() -> Iterator[None]:
    """Wait a little for one's turn; whoever waits longer keeps pages from others."""
    if not TURNS.acquire(timeout=WAIT_S):
        raise Conflict(
            "The file was not read yet.",
            "The site is looking through as many other files as it can at once.",
            "Nothing is lost: try again in a minute.",
        )
    try:
        yield
    finally:
        TURNS.release()


def _surroundings(place: str) -> dict[str, str]:
    """Hand the child no settings and no secrets, only what an interpreter needs."""
    kept = {name: os.environ[name] for name in ("PATH", "LANG", "LC_ALL") if name in os.environ}
    return kept | {"PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "HOME": place, "TMPDIR": place}


def _reason(code: int, said: str, room: Room) -> str:
    if code == -signal.SIGXCPU:
        return f"It used up {span(room.cpu_s)} of computing and was stopped."
    # A library that gets no memory aborts rather than raise.
    if code in {OUT_OF_MEMORY, -signal.SIGABRT} or "MemoryError" in said:
        memory = f"{room.memory_bytes / 1024**3:.3g} GB"
        return f"It needed more than {memory} of memory and was stopped."
    last = said.splitlines()[-1] if said else "it said nothing"
    return f"Reading it broke off (exit code {code}): {last}"
