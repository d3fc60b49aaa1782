"""Walk the folders of a storage root, and keep them free of empty ones."""

from collections.abc import Iterator
from pathlib import Path

from archive.storage import layout
from archive.storage.contract import Problem

_OURS = frozenset(layout.root_files()) | {"extensions"}


def walk(root: Path) -> Iterator[tuple[Path, Problem | None]]:
    """Give each object's folder with None, and each stray thing with what is wrong about it.

    Parameters
    ----------
    root : Path
        The storage root; one that is not there holds nothing.
    """
    if root.is_dir():
        tops = [path for path in sorted(root.iterdir()) if path.name not in _OURS]
        yield from _walk(tops, layout.TUPLES)


def _walk(level: list[Path], depth: int) -> Iterator[tuple[Path, Problem | None]]:
    for path in level:
        if path.is_symlink() or not path.is_dir():
            yield path, Problem("E072", ".", "is a file or a link among the store's folders")
        elif depth == 0:
            yield path, None
        else:
            below = sorted(path.iterdir())
            if not below:
                yield path, Problem("E073", ".", "is an empty folder")
            yield from _walk(below, depth - 1)


def prune(folder: Path, root: Path) -> None:
    """Remove a folder and those above it, up to the root, as long as they are empty."""
    while folder != root:
        try:
            folder.rmdir()
        except OSError:
            return
        folder = folder.parent


def prune_all(root: Path) -> None:
    """Remove every empty folder above the objects: an erasure that broke off may leave some."""
    for path, stray in list(walk(root)):
        if stray is not None and stray.code == "E073":
            prune(path, root)
