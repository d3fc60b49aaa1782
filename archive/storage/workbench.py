"""Where things are made before they are shown: a folder that survives any crash and is swept."""

import fcntl
import os
import shutil
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Workbench:
    """A folder on the store's own file system, so that what is made there can be renamed in.

    Parameters
    ----------
    folder : Path
        The folder; made when it is first needed.
    """

    folder: Path

    @contextmanager
    def lent(self) -> Iterator[Path]:
        """Lend a place of its own, locked while it is in use, then removed with all in it."""
        self.folder.mkdir(parents=True, exist_ok=True)
        place = self.folder / uuid.uuid4().hex
        place.mkdir()
        handle = os.open(place, os.O_RDONLY | os.O_DIRECTORY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield place
        finally:
            shutil.rmtree(place, ignore_errors=True)
            os.close(handle)

    def sweep(self, *, older_than_s: float) -> int:
        """Remove what broken-off work has left, and say how many pieces that was.

        Parameters
        ----------
        older_than_s : float
            Leave alone what is younger than so many seconds. A place that is lent is locked, and
            is left alone whatever its age.
        """
        if not self.folder.is_dir():
            return 0
        swept = 0
        now = time.time()
        for piece in sorted(self.folder.iterdir()):
            with suppress(FileNotFoundError):
                if now - piece.stat().st_mtime >= older_than_s:
                    swept += _sweep(piece)
        return swept


def _sweep(piece: Path) -> int:
    handle = os.open(piece, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return 0
    else:
        if piece.is_dir():
            shutil.rmtree(piece, ignore_errors=True)
        else:
            piece.unlink(missing_ok=True)
        return 1
    finally:
        os.close(handle)
