"""The published descriptor of a version: a Data Package, version 2.

References
----------
Data Package Standard 2.0 (26 June 2024), with its Data Resource, Table Dialect and Table Schema.
"""

import json
import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import UTC, datetime

from archive.exports.licences import licence_of
from archive.storage.names import check_paths
from registry.errors import Unsound

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
"""Value of $schema: says which standard is meant. Nothing fetches it."""

FORMATS = {"csv": "text/csv", "tsv": "text/tab-separated-values", "json": "application/json"}
"""Media type of each format that a table is published in."""

_BARE_CONSTRAINTS = frozenset({"required", "unique", "enum"})


@dataclass(frozen=True)
class Contributor:
    """One who had a part in the data.

    Parameters
    ----------
    title : str
        The name as it is shown.
    given, family : str
        Its parts, where they are known.
    orcid : str
        Sixteen characters with hyphens, without an address.
    organisation : str
        The body that the person worked for.
    roles : tuple of str
        What they did ("creator", "supervisor", "data steward").
    """

    title: str
    given: str = ""
    family: str = ""
    orcid: str = ""
    organisation: str = ""
    roles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Source:
    """Where data came from: another version, say.

    Parameters
    ----------
    title, path, version : str
        Its title, its address, and its version where it has one.
    """

    title: str
    path: str = ""
    version: str = ""


@dataclass(frozen=True)
class ResourceFacts:
    """What is known of one published table.

    Parameters
    ----------
    name : str
        Its name in the submitted descriptor.
    path : str
        Its path, relative to the descriptor.
    bytes : int
        Its size in bytes.
    sha256 : str
        Its digest in hexadecimal.
    format : str
        "csv", "tsv" or "json".
    encoding : str
        Its encoding.
    """

    name: str
    path: str
    bytes: int
    sha256: str
    format: str = "csv"
    encoding: str = "utf-8"


@dataclass(frozen=True)
class VersionFacts:
    """What the archive knows of an accepted version.

    Parameters
    ----------
    identifier : str
        Its ARK.
    title, version : str
        Title of the dataset, and number of the version.
    created : datetime
        When it was published, with its time zone.
    licences : tuple of str
        SPDX identifiers.
    contributors : tuple of Contributor
        In the order in which they are named.
    resources : tuple of ResourceFacts
        Its tables, one for each in the submitted descriptor.
    description, homepage : str
        What it is, and the address of its page.
    sources : tuple of Source
        What it was made from, beside what the submitted descriptor names.
    keywords : tuple of str
        Words under which it is looked for, beside those submitted.
    """

    identifier: str
    title: str
    version: str
    created: datetime
    licences: tuple[str, ...]
    contributors: tuple[Contributor, ...]
    resources: tuple[ResourceFacts, ...]
    description: str = ""
    homepage: str = ""
    sources: tuple[Source, ...] = ()
    keywords: tuple[str, ...] = ()


def published(submitted: Mapping[str, object], facts: VersionFacts) -> dict[str, object]:
    """Give the descriptor under which a version is published.

    Parameters
    ----------
    submitted : mapping
        The descriptor as it was deposited, of either version of the standard. It is not changed.
    facts : VersionFacts
        What the archive knows; it stands above what was submitted.

    Returns
    -------
    dict
        A Data Package 2.0 descriptor, whole in itself: nothing in it is to be fetched. Custom
        properties (x:fieldId, x:unit, x:role and others) are kept.

    Raises
    ------
    Unsound
        When a table is in one of the two and not in the other, or a schema or a dialect is
        not written out in the descriptor.
    """
    if facts.created.utcoffset() is None:
        raise ValueError("created must say its time zone")
    check_paths([resource.path for resource in facts.resources])
    given = deepcopy(dict(submitted))
    for key in ("profile", "$schema", "id", "created", "version", "licenses", "licences"):
        given.pop(key, None)
    name = given.pop("name", None)
    head: dict[str, object] = {
        "$schema": PROFILE,
        "name": name if isinstance(name, str) and name else _slug(facts.identifier),
        "id": facts.identifier,
        "title": facts.title,
        "description": facts.description or given.get("description", ""),
        "homepage": facts.homepage or given.get("homepage", ""),
        "version": facts.version,
        "created": facts.created.astimezone(UTC).isoformat(timespec="seconds")[:-6] + "Z",
        "licenses": [
            {"name": licence.id, "path": licence.path, "title": licence.title}
            for licence in map(licence_of, facts.licences)
        ],
        "contributors": [_contributor(each) for each in facts.contributors],
        "keywords": list(dict.fromkeys([*_texts(given.get("keywords")), *facts.keywords])),
        "sources": [*_mappings(given.get("sources")), *map(_source, facts.sources)],
        "resources": _resources(given.get("resources"), facts.resources),
    }
    kept = {key: value for key, value in given.items() if key not in head}
    return {key: value for key, value in head.items() if value} | kept


def descriptor_text(descriptor: Mapping[str, object]) -> str:
    """Write a descriptor as the text of datapackage.json."""
    return json.dumps(descriptor, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _slug(identifier: str) -> str:
    return re.sub(r"[^a-z0-9._-]+", "-", identifier.lower()).strip("-")


def _texts(value: object) -> list[str]:
    return [each for each in value if isinstance(each, str)] if isinstance(value, list) else []


def _mappings(value: object) -> list[dict[str, object]]:
    return [each for each in value if isinstance(each, dict)] if isinstance(value, list) else []


def _contributor(contributor: Contributor) -> dict[str, object]:
    written: dict[str, object] = {
        "title": contributor.title,
        "givenName": contributor.given,
        "familyName": contributor.family,
        "path": f"https://orcid.org/{contributor.orcid}" if contributor.orcid else "",
        "organization": contributor.organisation,
        "roles": list(contributor.roles),
    }
    return {key: value for key, value in written.items() if value}


def _source(source: Source) -> dict[str, object]:
    written = {"title": source.title, "path": source.path, "version": source.version}
    return {key: value for key, value in written.items() if value}


def _resources(submitted: object, facts: Sequence[ResourceFacts]) -> list[dict[str, object]]:
    given = {str(resource.get("name", "")): resource for resource in _mappings(submitted)}
    known = {resource.name: resource for resource in facts}
    odd = sorted(given.keys() ^ known.keys())
    if odd or len(known) != len(facts):
        raise Unsound(
            "The version could not be described.",
            f"Its descriptor and its files do not name the same tables: {', '.join(odd)}.",
            "Name each table once in the descriptor, and send a file for each.",
            fields={"resources": "do not agree with the files"},
        )
    return [_resource(resource, known[name]) for name, resource in given.items()]


def _resource(given: dict[str, object], facts: ResourceFacts) -> dict[str, object]:
    for key in ("profile", "$schema", "data", "url", "extrapaths", "scheme", "hash", "bytes"):
        given.pop(key, None)
    for key in ("schema", "dialect"):
        if key in given and not isinstance(given[key], dict):
            raise Unsound(
                "The version could not be described.",
                f"The {key} of {facts.name} is not written out in the descriptor.",
                f"Put the {key} itself into datapackage.json, in place of its address.",
                fields={key: "must be written out"},
            )
    head: dict[str, object] = {
        "name": facts.name,
        "path": facts.path,
        "type": "table",
        "format": facts.format,
        "mediatype": FORMATS.get(facts.format, "application/octet-stream"),
        "encoding": facts.encoding,
        "bytes": facts.bytes,
        "hash": f"sha256:{facts.sha256.lower()}",
    }
    rest = {key: value for key, value in given.items() if key not in head}
    dialect = rest.get("dialect")
    if isinstance(dialect, dict):
        rest["dialect"] = _dialect(dialect)
    schema = rest.get("schema")
    if isinstance(schema, dict):
        rest["schema"] = _schema(schema)
    return head | {key: value for key, value in rest.items() if value != {}}


def _dialect(dialect: dict[str, object]) -> dict[str, object]:
    """Give the dialect flat, as the standard has it; some programs nest it under its format."""
    nested = dialect.pop("csv", None)
    flat = {**nested, **dialect} if isinstance(nested, dict) else dialect
    flat.pop("$schema", None)
    flat.pop("profile", None)
    return flat


def _schema(schema: dict[str, object]) -> dict[str, object]:
    schema.pop("profile", None)
    schema.pop("$schema", None)
    for field in _mappings(schema.get("fields")):
        if "type" not in field:
            # Readers differ on what a missing type means: say it.
            constraints = field.get("constraints") or {}
            bare = isinstance(constraints, dict) and constraints.keys() <= _BARE_CONSTRAINTS
            field["type"] = "any" if bare else "string"
    match schema.get("fieldsMatch"):
        case [str(match)]:
            # The published profile asks for a list by mistake; the standard says a text.
            schema["fieldsMatch"] = match
    return schema
