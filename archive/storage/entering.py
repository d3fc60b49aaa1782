"""How a storage root is laid on a disk, and how a whole object enters it: by one rename.

References
----------
Oxford Common File Layout Specification 1.1, section 4.1: a storage root holds no empty folder.
"""

import errno
from pathlib import Path, PurePosixPath

from archive.storage import layout
from archive.storage.disk import settle
from archive.storage.making import settle_tree
from archive.storage.workbench import Workbench
from registry.errors import StoreFailed

_TRIES = 8
_TAKEN = frozenset({errno.ENOTEMPTY, errno.EEXIST})
_STORED = "The version could not be stored."


def is_laid(root: Path) -> bool:
    """Say whether a storage root is there, and is ours."""
    return all(
        (root / name).is_file() and (root / name).read_bytes() == content
        for name, content in layout.root_files().items()
    )


def lay(root: Path, workbench: Workbench) -> None:
    """Make a storage root where there is none.

    Raises
    ------
    StoreFailed
        When something else is there.
    """
    root.parent.mkdir(parents=True, exist_ok=True)
    if is_laid(root):
        return
    with workbench.lent() as bench:
        made = bench / "root"
        layout.lay_root(made)
        settle_tree(made)
        try:
            made.rename(root)
        except OSError as fault:
            if fault.errno not in _TAKEN:
                raise
        settle(root.parent)
    if not is_laid(root):
        raise StoreFailed(
            _STORED,
            f"The folder {root.name!r} holds other things and is no store of ours.",
            "Tell the administrator: the store's folder must be new, or be one that this"
            " program made.",
        )


def move_in(staged: Path, root: Path, place: PurePosixPath, bench: Path) -> bool:
    """Rename an object into its place below a root; False where one was put there first.

    The highest folder that is missing is renamed with all below it, so that one rename makes the
    whole path: the root never shows an empty folder.

    Parameters
    ----------
    staged : Path
        The object, whole, on the root's file system.
    root : Path
    place : PurePosixPath
        Relative to the root.
    bench : Path
        A folder beside it in which to make the path.

    Raises
    ------
    StoreFailed
        When others change that part of the root again and again.
    """
    for attempt in range(_TRIES):
        missing = _first_missing(root, place)
        if missing is None:
            return False
        carrier = staged
        if missing != place:
            carrier = bench / f"carrier-{attempt}"
            inside = carrier / place.relative_to(missing)
            inside.parent.mkdir(parents=True)
            staged.rename(inside)
            settle_tree(carrier, into_objects=False)
            staged = inside
        try:
            carrier.rename(root / missing)
        except OSError as fault:
            # Someone made or pruned a folder of the path meanwhile: look again.
            if fault.errno not in _TAKEN | {errno.ENOENT}:
                raise
            continue
        settle((root / missing).parent)
        return True
    raise StoreFailed(
        _STORED, "Others were changing the same part of the store.", "Try again in a moment."
    )


def _first_missing(root: Path, place: PurePosixPath) -> PurePosixPath | None:
    for folder in [*reversed(place.parents[:-1]), place]:
        if not (root / folder).is_dir():
            return folder
    return None
