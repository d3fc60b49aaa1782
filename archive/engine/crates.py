"""Research object crates that others made: what they name is there, and is what they say.

References
----------
RO-Crate Metadata Specification 1.2 and 1.1: the metadata document, the root data entity, files.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from archive.engine.descriptor import examine_path, find_named
from archive.engine.limits import Limits

METADATA = "ro-crate-metadata.json"
TABLES = {".csv": "csv", ".tsv": "tsv"}

type Entity = Mapping[str, Any]


def find_crate(folder: Path) -> Path | None:
    """Find the folder of a crate: this one, or the one that it holds."""
    metadata = find_named(folder, METADATA)
    return metadata.parent if metadata else None


def faults_of(root: Path, limits: Limits) -> list[str]:
    """Say what is wrong with a crate; an empty list where each file that it names is there."""
    path = root / METADATA
    if path.stat().st_size > limits.descriptor_bytes:
        return [f"{METADATA} is too large."]
    graph = _graph(path)
    if graph is None:
        return [f"{METADATA} is no JSON with a list “@graph” of things that have an “@id”."]
    if _root(graph) is None:
        return [f"{METADATA} does not say which thing the crate is."]
    return [fault for one in _files(graph) if (fault := _fault(root, one))]


def package_of(root: Path) -> dict[str, Any]:
    """Give a Data Package descriptor of a crate's tables, where it brings none of its own.

    Their columns are not explained in it: the study's dictionary does that.
    """
    graph = _graph(root / METADATA) or {}
    about = _root(graph) or {}
    resources = [
        {
            "name": Path(str(one["@id"])).stem.lower(),
            "path": str(one["@id"]).removeprefix("./"),
            "title": str(one.get("name") or one["@id"]),
            "format": TABLES[Path(str(one["@id"])).suffix.lower()],
        }
        for one in _files(graph)
        if Path(str(one["@id"])).suffix.lower() in TABLES
    ]
    told = {"title": about.get("name"), "description": about.get("description")}
    return {key: str(say) for key, say in told.items() if say} | {"resources": resources}


def _graph(path: Path) -> dict[str, Entity] | None:
    try:
        listed = json.loads(path.read_bytes().decode("utf-8-sig"))["@graph"]
        return {str(one["@id"]): dict(one) for one in listed}
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def _root(graph: Mapping[str, Entity]) -> Entity | None:
    """Give the root: what the metadata document says that it is about."""
    about = graph.get(METADATA, {}).get("about")
    mark = about.get("@id") if isinstance(about, dict) else None
    return graph.get(str(mark))


def _files(graph: Mapping[str, Entity]) -> Iterator[Entity]:
    """Give the files that lie in the crate; what has an address elsewhere is only told of."""
    for mark, one in graph.items():
        kinds = one.get("@type")
        is_file = "File" in (kinds if isinstance(kinds, list) else [kinds])
        if is_file and "://" not in mark and not mark.startswith("#"):
            yield one


def _fault(root: Path, one: Entity) -> str:
    name = str(one["@id"]).removeprefix("./")
    if (wrong := examine_path(name)) is not None:
        return wrong.message
    path = root / name
    if not path.is_file():
        return f"It names {name}, which is not there."
    said = str(one.get("sha256") or "")
    with path.open("rb") as opened:
        if said and hashlib.file_digest(opened, "sha256").hexdigest() != said.lower():
            return f"{name} is not the file whose digest it names."
    size = str(one.get("contentSize") or "")
    if size.isdigit() and int(size) != path.stat().st_size:
        return f"{name} is not of the size that it names."
    return ""
