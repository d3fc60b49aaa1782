"""Where bytes lie on this machine: the store of versions, the quarantine of uploads, and locks."""

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings

from archive.engine.limits import Limits
from archive.storage.quarantine import Quarantine
from archive.storage.store import Store


def store() -> Store:
    """Give the store of accepted versions."""
    return Store(Path(settings.STORE))


def quarantine() -> Quarantine:
    """Give the place where uploads wait until they are accepted."""
    return Quarantine(Path(settings.VAR) / "quarantine")


def check_limits() -> Limits:
    """Give the limits of size, time and memory that this site sets."""
    return Limits(
        wall_s=settings.CHECK_SECONDS,
        cpu_s=settings.CHECK_SECONDS,
        memory_bytes=settings.CHECK_MEMORY_MB * 1024**2,
    )


@contextmanager
def one_at_a_time(name: str) -> Iterator[None]:
    """Hold the lock of that name, so that bytes and rows of one thing are written together."""
    folder = Path(settings.VAR) / "locks"
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / name).open("a") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield
