"""Which keys of a bucket are whose: the objects of a storage root without folders."""

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from archive.storage import layout
from archive.storage.bucket import Bucket, Found

INVENTORY = "inventory.json"
DEPTH = layout.TUPLES + 1
"""How many parts the place of an object has."""
READ = "The version could not be read."


@dataclass(frozen=True)
class Keys:
    """The keys of a bucket, below how the store's keys begin."""

    bucket: Bucket

    def key(self, path: str, top: str = "") -> str:
        """Give the key of a path in the root, or beside it where `top` is added to its name."""
        prefix = self.bucket.address.prefix
        return "/".join(part for part in (f"{prefix}{top}", path) if part)

    def root_of(self, object_id: str) -> str:
        """Give how the keys of an object begin."""
        return self.key(layout.place_of(object_id).as_posix())

    def by_place(self) -> dict[str, list[Found]]:
        """Give the keys that there are by the object's place, in the order of the places."""
        ours = {self.key(name) for name in layout.root_files()}
        found: dict[str, list[Found]] = defaultdict(list)
        top = self.key("")
        for one in self.bucket.listing(f"{top}/" if top else "", what=READ):
            parts = PurePosixPath(one.key.removeprefix(f"{top}/") if top else one.key).parts
            if one.key not in ours:
                found["/".join(parts[:DEPTH])].append(one)
        return dict(sorted(found.items(), key=lambda pair: PurePosixPath(pair[0]).parts))

    def is_whole(self, place: str, found: list[Found]) -> bool:
        """Say whether an object is there: its inventory is put last."""
        return any(one.key == self.key(f"{place}/{INVENTORY}") for one in found)

    def fetch(self, root: str, folder: Path) -> None:
        """Copy what lies below the beginning of an object's keys into a folder."""
        for one in self.bucket.listing(f"{root}/", what=READ):
            place = folder / one.key.removeprefix(f"{root}/")
            if folder not in place.resolve().parents:
                continue  # a key that climbs out is none of ours; the reading will lack it
            place.parent.mkdir(parents=True, exist_ok=True)
            self.bucket.copy_to(one.key, place, what=READ)
