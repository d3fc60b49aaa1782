"""A version as a bag: its files as the payload, and the tag files that say what they must be.

References
----------
RFC 8493, The BagIt File Packaging Format (V1.0), sections 2.1.3 (manifests; how CR, LF and the
per cent sign are written in a path), 2.2.2 (bag-info.txt) and 2.2.1 (tag manifests).
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

ALGORITHMS = ("sha256", "sha512")


@dataclass(frozen=True)
class Payload:
    """What is known of one file of the payload: its size, and its digests in hexadecimal."""

    bytes: int
    sha256: str
    sha512: str


def tag_files(payload: Mapping[str, Payload], info: Sequence[tuple[str, str]]) -> dict[str, bytes]:
    """Give the files of a bag beside its payload.

    Parameters
    ----------
    payload : mapping of str to Payload
        By the path below `data/`.
    info : sequence of (str, str)
        Labels and values of bag-info.txt, in their order; Payload-Oxum is added.

    Returns
    -------
    dict
        Path to bytes: bagit.txt, bag-info.txt, and a manifest and a tag manifest for each
        algorithm.
    """
    octets = sum(one.bytes for one in payload.values())
    told = [*info, ("Payload-Oxum", f"{octets}.{len(payload)}")]
    tags = {
        "bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
        "bag-info.txt": "".join(
            f"{label}: {' '.join(value.split())}\n" for label, value in told if value.strip()
        ).encode(),
    }
    for name in ALGORITHMS:
        lines = [
            f"{getattr(one, name).lower()}  data/{_written(path)}\n"
            for path, one in sorted(payload.items())
        ]
        tags[f"manifest-{name}.txt"] = "".join(lines).encode()
    listed = dict(tags)
    for name in ALGORITHMS:
        lines = [
            f"{hashlib.new(name, content).hexdigest()}  {path}\n"
            for path, content in sorted(listed.items())
        ]
        tags[f"tagmanifest-{name}.txt"] = "".join(lines).encode()
    return tags


def _written(path: str) -> str:
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")
