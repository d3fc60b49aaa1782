"""Hold a copy of a version against its own object and against what the database keeps of it."""

from pathlib import Path

from archive.models import Version
from archive.storage.contract import Manifest, VersionStore
from archive.storage.reader import read_object
from archive.storage.store import Store
from archive.storage.trusting import manifest_of, seal_in
from registry.errors import Refusal


def faults_of(held: VersionStore, version: Version) -> list[str]:
    """Read every byte of a version in a store again, and say what is wrong.

    What the object says of itself is not enough, for whoever altered a file could alter that too:
    its files and the seal over all of it are held against the database, whose rows the ledger
    knows.
    """
    found = [str(one) for one in held.verify(version.identifier) if one.is_error]
    try:
        manifest, seal = held.manifest(version.identifier), held.seal_of(version.identifier)
    except Refusal as refusal:
        return [*found, refusal.why]
    return [*found, *_differences(version, manifest, seal)]


def faults_in(folder: Path, version: Version) -> list[str]:
    """Read every byte of an object that lies in a folder, and say what is wrong, likewise."""
    reading = read_object(folder)
    if reading.errors or reading.inventory is None:
        return [str(one) for one in reading.errors] or ["it has no inventory"]
    manifest = manifest_of(reading.inventory, lambda path: (folder / path).stat().st_size)
    return _differences(version, manifest, seal_in(folder))


def _differences(version: Version, manifest: Manifest, seal: str) -> list[str]:
    listed = {
        file.logical: {"bytes": file.bytes, "sha256": file.sha256, "sha512": file.sha512}
        for file in manifest.files
    }
    if listed == version.manifest:
        return [] if seal == version.seal else ["its inventory is not that of the database"]
    odd = sorted(
        name
        for name in listed.keys() | version.manifest.keys()
        if listed.get(name) != version.manifest.get(name)
    )
    return [f"its files are not those of the database: {', '.join(odd)}"]


def why_absent(held: VersionStore) -> str:
    """Say why nothing can be told of a store's copies: it does not answer, or is not there.

    A disk that is not mounted shows an empty folder: that is no damage to every version.
    """
    if why := held.fault():
        return why
    if isinstance(held, Store) and not held.is_laid():
        return f"{held.where} is no store: is its disk mounted?"
    return ""
