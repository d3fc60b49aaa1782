"""The words by which a dictionary or a version is looked for."""

from collections.abc import Iterator, Mapping
from typing import Any


def words_of(descriptor: Mapping[str, Any]) -> str:
    """Give titles, names and meanings from a descriptor: of the package, its tables and fields."""
    return "\n".join(word for word in _words(descriptor) if word)


def _words(part: Mapping[str, Any]) -> Iterator[str]:
    for name in ("title", "name", "description"):
        yield str(part.get(name) or "")
    for keyword in part.get("keywords") or ():
        yield str(keyword)
    for resource in part.get("resources") or ():
        yield from _words(resource)
    schema = part.get("schema")
    for field in (schema.get("fields") or ()) if isinstance(schema, Mapping) else ():
        yield from _words(field)
