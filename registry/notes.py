"""Dated notes beside the site: when it was backed up and verified last, and the worker's beat.

They stand in files, so that they can be read when the database cannot.
"""

import json
import logging
import os
import uuid
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

logger = logging.getLogger(__name__)

BEAT_S = 10.0
"""How often the worker is to be heard of."""


def _folder() -> Path:
    return Path(settings.VAR) / "notes"


def write_note(name: str, **facts: Any) -> None:
    """Write the newest note of a name; a disk that takes none does not undo what was done."""
    folder = _folder()
    part = folder / f"{name}.{uuid.uuid4().hex}.part"
    text = json.dumps({"at": timezone.now().isoformat(), **facts}, ensure_ascii=False, indent=1)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        part.write_text(text + "\n", encoding="utf-8")
        part.replace(folder / f"{name}.json")
    except OSError as fault:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        logger.warning("The note “%s” could not be kept: %s", name, fault)


def read_note(name: str) -> dict[str, Any] | None:
    """Give the newest note of a name, its `at` as a moment; None where there is none."""
    try:
        note = json.loads((_folder() / f"{name}.json").read_text(encoding="utf-8"))
        return {**note, "at": datetime.fromisoformat(note["at"])}
    except (OSError, ValueError, KeyError, TypeError):
        return None


def beat() -> None:
    """Say that the worker is alive."""
    folder = _folder()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "worker").touch()
    os.utime(folder / "worker")


def heard_at() -> datetime | None:
    """Give when the worker was heard of last."""
    try:
        return datetime.fromtimestamp((_folder() / "worker").stat().st_mtime, UTC)
    except OSError:
        return None
