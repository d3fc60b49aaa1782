"""The words by which a dictionary or a version is looked for."""

from collections.abc import Iterator, Mapping
from typing import Any

from archive.engine.roles import ETHOGRAM, FIELD_ID, UNIT, fields_of
from registry.search.parts import Part


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


def field_parts(descriptor: Mapping[str, Any], about: str = "") -> list[Part]:
    """Give each field that has a permanent id, with all the words by which it is looked for.

    `about` is what is said of all of them: the study, its animal, its procedures.
    """
    parts = {}
    for table in descriptor.get("resources") or ():
        schema = table.get("schema")
        for field in fields_of(schema) if isinstance(schema, Mapping) else ():
            if identifier := str(field.get(FIELD_ID) or ""):
                anchor = f"field-{identifier}"
                title = str(field.get("title") or field["name"])
                text = "\n".join(word for word in (*_words_of_field(field, table), about) if word)
                parts[anchor] = Part(anchor, title, text)
    return list(parts.values())


def _words_of_field(field: Mapping[str, Any], table: Mapping[str, Any]) -> Iterator[str]:
    if field.get("title"):
        yield str(field["name"])
    yield str(field.get("description") or "")
    yield str(field.get(UNIT) or "")
    yield f"in {table.get('title') or table.get('name')}"
    for entry in field.get(ETHOGRAM) or ():
        yield " ".join(str(entry.get(key) or "") for key in ("code", "name", "definition"))
    for code in field.get("categories") or field.get("constraints", {}).get("enum") or ():
        if isinstance(code, Mapping):
            yield f"{code.get('value', '')} {code.get('label', '')}".strip()
        else:
            yield str(code)
