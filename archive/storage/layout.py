"""Where an object lies in the storage root: OCFL extension 0003.

References
----------
OCFL Community Extension 0003, Hashed Truncated N-tuple Trees with Object ID Encapsulating
Directory, with its default parameters (sha256, three tuples of three characters).
"""

import hashlib
import json
import re
from pathlib import Path, PurePosixPath

from archive.storage.disk import write_file

NAME = "0003-hash-and-id-n-tuple-storage-layout"
"""Registered name of the extension."""

TUPLE_SIZE = 3
TUPLES = 3
LONGEST = 100

_SAFE = re.compile(r"[A-Za-z0-9_-]")


def place_of(object_id: str) -> PurePosixPath:
    """Give the folder of an object, relative to the storage root.

    Parameters
    ----------
    object_id : str
        Any text.

    Returns
    -------
    PurePosixPath
        Three tuples of the identifier's sha256, then the identifier, percent-encoded in lower
        case; one of more than 100 characters is cut and closed with its digest.

    Examples
    --------
    >>> str(place_of("object-01"))
    '3c0/ff4/240/object-01'
    """
    digest = hashlib.sha256(object_id.encode()).hexdigest()
    tuples = [digest[at : at + TUPLE_SIZE] for at in range(0, TUPLE_SIZE * TUPLES, TUPLE_SIZE)]
    name = "".join(
        mark if _SAFE.fullmatch(mark) else "".join(f"%{byte:02x}" for byte in mark.encode())
        for mark in object_id
    )
    if len(name) > LONGEST:
        name = f"{name[:LONGEST]}-{digest}"
    return PurePosixPath(*tuples, name)


def root_files() -> dict[str, bytes]:
    """Give the files that make a folder an OCFL 1.1 storage root with this layout."""
    layout = {
        "extension": NAME,
        "description": "One folder per object, under three tuples of the sha256 of its identifier.",
    }
    config = {
        "extensionName": NAME,
        "digestAlgorithm": "sha256",
        "tupleSize": TUPLE_SIZE,
        "numberOfTuples": TUPLES,
    }
    return {
        "0=ocfl_1.1": b"ocfl_1.1\n",
        "ocfl_layout.json": json.dumps(layout, indent=2).encode() + b"\n",
        f"extensions/{NAME}/config.json": json.dumps(config, indent=2).encode() + b"\n",
    }


def lay_root(folder: Path) -> None:
    """Write the files that make a folder a storage root, read-only and through to the disk."""
    for name, content in root_files().items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        write_file(folder / name, content)
