"""A version as a research object crate: its files, people, licence and columns as linked data.

References
----------
RO-Crate Metadata Specification 1.2: the metadata document, the root data entity (name, description,
datePublished, license), data entities and contextual entities. schema.org for the terms, with
variableMeasured and PropertyValue for columns.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from archive.engine.roles import FIELD_ID, UNIT, fields_of
from archive.exports.citation import Citation, Creator
from archive.exports.licences import licence_of

NAME = "ro-crate-metadata.json"
CONTEXT = "https://w3id.org/ro/crate/1.2/context"
CONFORMS = "https://w3id.org/ro/crate/1.2"

type Entity = dict[str, Any]


def crate(citation: Citation, descriptor: Mapping[str, Any]) -> str:
    """Give the metadata document of a version.

    Parameters
    ----------
    citation : Citation
    descriptor : mapping
        The published Data Package descriptor, whose resources are the crate's data entities.

    Returns
    -------
    str
        JSON-LD, flattened: each thing once, and named elsewhere by its @id.
    """
    files = [_file(resource) for resource in descriptor.get("resources", ())]
    people = [_creator(creator, at) for at, creator in enumerate(citation.creators, start=1)]
    publisher: Entity = {"@id": "#publisher", "@type": "Organization", "name": citation.publisher}
    columns = list(_columns(descriptor.get("resources", ())))
    package: Entity = {
        "@id": "datapackage.json",
        "@type": "File",
        "name": "The data dictionary: what each column means",
        "encodingFormat": "application/json",
        "conformsTo": {"@id": str(descriptor.get("$schema", ""))},
    }
    root: Entity = {
        "@id": "./",
        "@type": "Dataset",
        "name": f"{citation.title}, version {citation.version}",
        "description": citation.abstract or citation.title,
        "datePublished": citation.issued.isoformat(),
        "identifier": citation.identifier,
        "version": citation.version,
        "url": citation.url,
        "publisher": {"@id": publisher["@id"]},
        "author": [{"@id": one["@id"]} for one in people],
        "keywords": list(citation.keywords),
        "hasPart": [{"@id": one["@id"]} for one in [package, *files]],
        "variableMeasured": [{"@id": one["@id"]} for one in columns],
    }
    if citation.sources:
        root["isBasedOn"] = [{"@id": source} for source in citation.sources]
    sources = [{"@id": source, "@type": "Dataset"} for source in citation.sources]
    graph = [
        {
            "@id": NAME,
            "@type": "CreativeWork",
            "conformsTo": {"@id": CONFORMS},
            "about": {"@id": "./"},
        },
        root,
        package,
        *files,
        *people,
        *_bodies(citation.creators),
        publisher,
        *columns,
        *sources,
    ]
    if citation.licence:
        licence = licence_of(citation.licence)
        root["license"] = {"@id": licence.path}
        graph.append({"@id": licence.path, "@type": "CreativeWork", "name": licence.title})
    told = [{key: value for key, value in one.items() if value not in ("", [], {"@id": ""})}
            for one in graph]  # fmt: skip
    return json.dumps({"@context": CONTEXT, "@graph": told}, indent=2, ensure_ascii=False) + "\n"


def _file(resource: Mapping[str, Any]) -> Entity:
    return {
        "@id": resource["path"],
        "@type": "File",
        "name": str(resource.get("title") or resource["name"]),
        "description": str(resource.get("description", "")),
        "encodingFormat": str(resource.get("mediatype", "")),
        "contentSize": str(resource.get("bytes", "")),
        "sha256": str(resource.get("hash", "")).removeprefix("sha256:"),
    }


def _creator(creator: Creator, at: int) -> Entity:
    kind = "Organization" if creator.is_body else "Person"
    made: Entity = {
        "@id": f"https://orcid.org/{creator.orcid}" if creator.orcid else f"#creator-{at}",
        "@type": kind,
        "name": f"{creator.given} {creator.family}".strip(),
    }
    if not creator.is_body:
        made |= {"givenName": creator.given, "familyName": creator.family}
    if creator.affiliation:
        made["affiliation"] = {"@id": _body_id(creator.affiliation)}
    return made


def _body_id(name: str) -> str:
    return "#" + "-".join(name.lower().split())


def _bodies(creators: Sequence[Creator]) -> list[Entity]:
    """Give each body that somebody works for, once."""
    named = {one.affiliation: _body_id(one.affiliation) for one in creators if one.affiliation}
    return [
        {"@id": at, "@type": "Organization", "name": name}
        for at, name in {at: name for name, at in named.items()}.items()
    ]


def _columns(resources: Sequence[Mapping[str, Any]]) -> Iterator[Entity]:
    for resource in resources:
        for field in fields_of(resource.get("schema") or {}):
            yield {
                "@id": f"#{resource['name']}-{field.get(FIELD_ID) or field['name']}",
                "@type": "PropertyValue",
                "name": field["name"],
                "description": str(field.get("description") or field.get("title") or ""),
                "propertyID": str(field.get(FIELD_ID, "")),
                "unitText": str(field.get(UNIT, "")),
            }
