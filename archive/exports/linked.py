"""A version's page for programs: what it is as linked data, and typed links to what belongs to it.

References
----------
schema.org, Dataset, DataDownload and PropertyValue; JSON-LD 1.1, 4.1.2 (@vocab, so that no context
is fetched). RFC 8288 (Link), RFC 6596 (canonical), RFC 8574 (cite-as), RFC 9264 (linksets).
Darwin Core quick reference (2023): a column whose `rdfType` is a term of it carries the term.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from archive.engine.roles import FIELD_ID, UNIT, fields_of
from archive.exports.citation import Citation, Creator
from archive.exports.licences import licence_of
from archive.exports.registered import resolved

VOCABULARY = "https://schema.org/"
MOST_ITEMS = 20
"""Files named in a heading; the linkset names all. The house's own choice, no source."""


@dataclass(frozen=True, slots=True)
class Download:
    """One file that can be taken away.

    Parameters
    ----------
    url, media : str
        Its address, whole, and its media type.
    name : str
    bytes : int or None
    sha256 : str
        In hexadecimal; "" where it is made while it is sent.
    """

    url: str
    media: str
    name: str = ""
    bytes: int | None = None
    sha256: str = ""


def dataset(
    citation: Citation,
    descriptor: Mapping[str, Any],
    downloads: Sequence[Download],
    *,
    resolver: str,
    taxa: Sequence[str] = (),
) -> dict[str, Any]:
    """Give a version as schema.org has it.

    Parameters
    ----------
    citation : Citation
    descriptor : mapping
        The published Data Package descriptor.
    downloads : sequence of Download
        Those that the reader may take; none where the files are closed.
    resolver : str
        The address at which the identifier is resolved.
    taxa : sequence of str
        Scientific names of the animals that it is about.

    Returns
    -------
    dict
        JSON-LD with its vocabulary in it.
    """
    also = [resolved(citation.registered)] if citation.registered else []
    whole: dict[str, Any] = {
        "@context": {"@vocab": VOCABULARY},
        "@type": "Dataset",
        "@id": citation.url,
        "name": citation.title,
        "description": citation.abstract or citation.title,
        "identifier": [citation.identifier, resolver, *also],
        "url": citation.url,
        "sameAs": [resolver, *also],
        "version": citation.version,
        "datePublished": citation.issued.isoformat(),
        "license": licence_of(citation.licence).path if citation.licence else "",
        "creator": [_creator(one) for one in citation.creators],
        "publisher": {"@type": "Organization", "name": citation.publisher},
        "keywords": list(citation.keywords),
        "about": [{"@type": "Taxon", "name": name} for name in taxa],
        "isAccessibleForFree": bool(downloads),
        "isBasedOn": list(citation.sources),
        "variableMeasured": list(_columns(descriptor)),
        "distribution": [_download(one) for one in downloads],
    }
    return {key: value for key, value in whole.items() if value not in ("", [])}


def _creator(creator: Creator) -> dict[str, Any]:
    made: dict[str, Any] = {
        "@type": "Organization" if creator.is_body else "Person",
        "name": f"{creator.given} {creator.family}".strip(),
    }
    if creator.orcid:
        made["@id"] = made["identifier"] = f"https://orcid.org/{creator.orcid}"
    if creator.affiliation:
        made["affiliation"] = {"@type": "Organization", "name": creator.affiliation}
    return made


def _columns(descriptor: Mapping[str, Any]) -> Iterable[dict[str, Any]]:
    for resource in descriptor.get("resources", ()):
        for field in fields_of(resource.get("schema") or {}):
            ids = [field.get("rdfType"), field.get(FIELD_ID)]
            told = {
                "@type": "PropertyValue",
                "name": field["name"],
                "description": str(field.get("description") or field.get("title") or ""),
                "propertyID": [str(one) for one in ids if one],
                "unitText": str(field.get(UNIT, "")),
            }
            yield {key: value for key, value in told.items() if value not in ("", [])}


def _download(one: Download) -> dict[str, Any]:
    told = {
        "@type": "DataDownload",
        "contentUrl": one.url,
        "encodingFormat": one.media,
        "name": one.name,
        "contentSize": f"{one.bytes} B" if one.bytes is not None else "",
        "sha256": one.sha256,
    }
    return {key: value for key, value in told.items() if value}


def in_page(told: Mapping[str, Any]) -> str:
    """Write linked data so that it can stand inside a page: no text of it can end the element.

    >>> "<" in in_page({"name": "</script>"})
    False
    """
    text = json.dumps(told, ensure_ascii=False)
    return text.translate({ord(sign): f"\\u{ord(sign):04X}" for sign in "<>&\u2028\u2029"})


# ------------------------------------------------------------------ typed links


@dataclass(frozen=True, slots=True)
class Link:
    """One typed link from a page.

    Parameters
    ----------
    rel : str
        A registered relation ("cite-as", "describedby", "item", "type", "license", "author").
    href : str
        Whole address.
    media, profile : str
        Media type of what is there, and which form of it.
    """

    rel: str
    href: str
    media: str = ""
    profile: str = ""


def links(
    citation: Citation,
    downloads: Sequence[Download],
    *,
    resolver: str,
    records: Sequence[Link],
    linkset: str,
) -> list[Link]:
    """Give the typed links of a version's page."""
    return [
        Link("cite-as", resolver),
        Link("type", f"{VOCABULARY}Dataset"),
        Link("type", f"{VOCABULARY}AboutPage"),
        *([Link("license", licence_of(citation.licence).path)] if citation.licence else []),
        *(
            Link("author", f"https://orcid.org/{one.orcid}")
            for one in citation.creators
            if one.orcid
        ),
        *records,
        *(Link("item", one.url, one.media) for one in downloads),
        Link("linkset", linkset, "application/linkset+json"),
    ]


def heading(found: Sequence[Link]) -> str:
    """Write links as the value of a Link heading, at most `MOST_ITEMS` of them to files.

    >>> heading([Link("item", "https://a.example/t.csv", "text/csv")])
    '<https://a.example/t.csv>; rel="item"; type="text/csv"'
    """
    items = [one for one in found if one.rel == "item"]
    left_out = set(items[MOST_ITEMS:])
    return ", ".join(_written(one) for one in found if one not in left_out)


def _written(link: Link) -> str:
    media = f'; type="{link.media}"' if link.media else ""
    profile = f'; profile="{link.profile}"' if link.profile else ""
    return f'<{link.href}>; rel="{link.rel}"{media}{profile}'


def linkset(anchor: str, found: Sequence[Link]) -> dict[str, Any]:
    """Give all the links of a page as a linkset in JSON (RFC 9264, section 4.2)."""
    by_rel: dict[str, list[dict[str, str]]] = {}
    for link in found:
        if link.rel == "linkset":
            continue
        told = {"href": link.href, "type": link.media, "profile": link.profile}
        by_rel.setdefault(link.rel, []).append({key: say for key, say in told.items() if say})
    items = [
        {"anchor": link.href, "collection": [{"href": anchor, "type": "text/html"}]}
        for link in found
        if link.rel == "item"
    ]
    return {"linkset": [{"anchor": anchor, **by_rel}, *items]}
