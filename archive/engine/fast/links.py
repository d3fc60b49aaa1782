"""Foreign keys into large tables: their keys as digests, 8 bytes each, by the kernel itself."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from frictionless import FrictionlessException

from archive.engine.fast.first_pass import KeyDigests
from archive.engine.fast.keys import DigestSet
from archive.engine.fast.plan import Slow
from archive.engine.fast.replay import Key
from archive.engine.fast.run import FastTable
from archive.engine.way import FAR_BYTES, size_of

Linked = dict[tuple[str, tuple[str, ...]], DigestSet]


@contextmanager
def near_links_only(resource: Any, seed: np.uint64) -> Iterator[Linked]:
    """Have frictionless look up the keys of small tables only, while a table is opened.

    Gives the keys of the large ones; a table that links to itself and is large looks them up in
    its own pass. A table that the kernel cannot read is left to frictionless.
    """
    schema, linked = resource.schema, Linked()
    every = list(schema.foreign_keys)
    near = [link for link in every if not _is_far(resource, link, seed, linked)]
    if near == every:
        # A schema that is set, if only to what it was, counts as declared.
        yield linked
        return
    schema.foreign_keys = near
    try:
        yield linked
    finally:
        schema.foreign_keys = every


def _is_far(resource: Any, link: dict[str, Any], seed: np.uint64, linked: Linked) -> bool:
    name, fields = link["reference"]["resource"], tuple(link["reference"]["fields"])
    if name in {"", resource.name}:
        return size_of(resource) >= FAR_BYTES
    if resource.package is None or not resource.package.has_resource(name):
        return False
    other = resource.package.get_resource(name)
    if size_of(other) < FAR_BYTES:
        return False
    if (name, fields) not in linked:
        try:
            linked[name, fields] = _digested(other.to_copy(), fields, seed)
        except (FrictionlessException, Slow):
            return False
    return True


def _digested(resource: Any, fields: tuple[str, ...], seed: np.uint64) -> DigestSet:
    resource.schema.foreign_keys = []
    with resource:
        table = FastTable(resource, digested=fields, seed=seed)
        if not set(fields) <= set(table.place):
            raise Slow("the columns are not there")
        key = Key("source", tuple(table.place[name] for name in fields))
        digests = KeyDigests(key, np.array([table.slots[at] for at in key.fields], np.int64))
        table.read(also=[digests])
    return DigestSet(np.unique(digests.whole()))
