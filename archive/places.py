"""Where bytes lie on this machine: the store of versions, the quarantine of uploads, and locks."""

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path

from django.conf import settings

from archive.engine.limits import Limits
from archive.storage.address import BucketAddress
from archive.storage.contract import VersionStore
from archive.storage.quarantine import Quarantine
from archive.storage.store import Store


def store() -> VersionStore:
    """Give the store of accepted versions."""
    assert settings.STORE is not None  # it has a default
    return _opened(settings.STORE, "store")


def second_store() -> VersionStore | None:
    """Give the store that holds a second copy of each version; None where there is none."""
    return _opened(settings.SECOND_STORE, "second-store") if settings.SECOND_STORE else None


def _opened(place: Path | BucketAddress, name: str) -> VersionStore:
    if not isinstance(place, BucketAddress):
        return Store(Path(place))
    # What speaks to an object store is loaded where there is one.
    bucket = import_module("archive.storage.bucket").Bucket(place)
    staging = Path(settings.VAR) / f"{name}.staging"
    opened: VersionStore = import_module("archive.storage.remote").RemoteStore(bucket, staging)
    return opened


def disks_of(held: VersionStore) -> list[Path]:
    """Give the folders of this machine in which a store keeps and makes its objects."""
    return [held.root, held.workbench.folder] if isinstance(held, Store) else []


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
