"""How a version is cited: in text, BibTeX, RIS, CSL-JSON and CITATION.cff.

References
----------
The manner of the text: Publication Manual of the American Psychological Association, 7th edition
(2020), section 10.9, data sets. Citation File Format 1.2.0. Citation Style Language 1.0, its JSON
schema for input. RIS and BibTeX have no standard: common practice, no source.
"""

import json
import re
from dataclasses import dataclass
from datetime import date

from archive.exports.identifier import parse
from archive.exports.registered import doi_in

MOST_NAMED = 20
"""Most authors that a text citation names in full; of more, 19 and the last (section 9.8)."""
MOST_IN_HARVARD = 3
"""Authors whom the style names; of more it names the first."""


@dataclass(frozen=True)
class Creator:
    """One who made the data: a person, or a body (with `family` its whole name).

    Parameters
    ----------
    family, given : str
        Family and given names; a body has no given name.
    orcid : str
        Sixteen characters with hyphens, without an address.
    affiliation : str
        The body that the person worked for.
    is_body : bool
        Whether it is a body, not a person.
    """

    family: str
    given: str = ""
    orcid: str = ""
    affiliation: str = ""
    is_body: bool = False

    @property
    def initials(self) -> str:
        """Initials of the given names: "Mary-Ann Jo" gives "M.-A. J."."""
        return " ".join(
            "-".join(f"{part[0].upper()}." for part in name.split("-") if part)
            for name in self.given.split()
        )


NAME_REMOVED = Creator("Name removed", is_body=True)
"""Stands for a person whose name was taken out."""


@dataclass(frozen=True)
class Citation:
    """What a citation is made of.

    Parameters
    ----------
    identifier : str
        ARK of the version.
    title, version, publisher : str
        Title of the dataset, number of the version, and who publishes it.
    creators : tuple of Creator
        In the order in which they are named.
    issued : date
        Day on which the version was published.
    url : str
        Address of the version's page.
    licence : str
        SPDX identifier.
    abstract : str
        What it is, in a few sentences.
    keywords : tuple of str
        Words under which it is looked for.
    sources : tuple of str
        ARKs of the versions that it was pooled out of.
    registered : str
        A DOI or a Handle beside the ARK, with its scheme; "" for none.
    """

    identifier: str
    title: str
    version: str
    creators: tuple[Creator, ...]
    publisher: str
    issued: date
    url: str
    licence: str = ""
    abstract: str = ""
    keywords: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    registered: str = ""

    @property
    def doi(self) -> str:
        """Its DOI, bare; "" where it has none."""
        return doi_in(self.registered)

    @property
    def key(self) -> str:
        """A key for lists of references, made of the identifier alone."""
        ark = parse(self.identifier)
        return f"{ark.name}_v{ark.version.replace('.', '_')}" if ark.version else ark.name


def text(citation: Citation) -> str:
    """Give the citation as one line of text.

    Examples
    --------
    >>> text(Citation("ark:13030/xf93gt2q.v1", "Ray enrichment", "1.0.0",
    ...     (Creator("Patel", "Asha"),), "Example Aquarium", date(2026, 5, 1),
    ...     "https://example.org/1"))
    'Patel, A. (2026). Ray enrichment (Version 1.0.0) [Dataset]. Example Aquarium. https://example.org/1'
    """
    made = _flat(citation.title)
    what = f"{made} (Version {citation.version}) [Dataset]"
    year = f"({citation.issued.year})."
    who = _named(citation.creators)
    # Without an author the title takes the author's place.
    head = f"{_closed(who)} {year} {_closed(what)}" if who else f"{_closed(what)} {year}"
    return f"{head} {_closed(_flat(citation.publisher))} {citation.url}"


def harvard(citation: Citation) -> str:
    """Give the citation as one line of text, by author and date with names joined in words.

    Notes
    -----
    Names, date and address stand as citeproc-py 0.11 sets them by the CSL style
    harvard-cite-them-right; the version and what it is are told beside the title.

    Examples
    --------
    >>> harvard(Citation("ark:13030/xf93gt2q.v1", "Ray enrichment", "1.0.0",
    ...     (Creator("Patel", "Asha"), Creator("Lindqvist", "Priya Anna"), Creator("An Aquarium")),
    ...     "Example Aquarium", date(2026, 5, 1), "https://example.org/1"))
    'Patel, A., Lindqvist, P.A. and An Aquarium (2026) “Ray enrichment” (Version 1.0.0) [Dataset]. \
Example Aquarium. Available at: https://example.org/1.'
    """
    names = [
        f"{_flat(one.family)}, {one.initials.replace(' ', '')}" if one.given else _flat(one.family)
        for one in citation.creators
    ]
    who = " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)
    if len(names) > MOST_IN_HARVARD:
        who = f"{names[0]} et al."
    year, title = f"({citation.issued.year})", f"“{_flat(citation.title)}”"
    what = f"(Version {citation.version}) [Dataset]."
    head = f"{who} {year} {title}" if who else f"{title} {year}"
    return f"{head} {what} {_closed(_flat(citation.publisher))} Available at: {citation.url}."


def _closed(words: str) -> str:
    return words if words.endswith((".", "?", "!")) else f"{words}."


def _flat(words: str) -> str:
    return " ".join(words.split())


def _named(creators: tuple[Creator, ...]) -> str:
    names = [
        f"{_flat(creator.family)}, {creator.initials}" if creator.given else _flat(creator.family)
        for creator in creators
    ]
    if len(names) > MOST_NAMED:
        return f"{', '.join(names[: MOST_NAMED - 1])}, … {names[-1]}"
    if len(names) > 1:
        return f"{', '.join(names[:-1])}, & {names[-1]}"
    return "".join(names)


_CFF_DOI = re.compile(r"10\.\d{4,9}(?:\.\d+)?/[A-Za-z0-9:/_;\-.()\[\]\\]+")
"""The DOIs that a CITATION.cff of version 1.2.0 takes, by its schema."""
_BIBTEX = {
    "\\": r"\textbackslash{}", "{": r"\{", "}": r"\}", "$": r"\$", "&": r"\&", "#": r"\#",
    "_": r"\_", "%": r"\%", "~": r"\textasciitilde{}", "^": r"\textasciicircum{}",
}  # fmt: skip


def bibtex(citation: Citation) -> str:
    """Give the citation as one BibTeX entry, of the kind that every style knows (@misc)."""

    def escaped(words: str) -> str:
        return "".join(_BIBTEX.get(mark, mark) for mark in _flat(words))

    def person(creator: Creator) -> str:
        if creator.given:
            return f"{escaped(creator.family)}, {escaped(creator.given)}"
        return f"{{{escaped(creator.family)}}}"

    fields = {
        "author": " and ".join(person(creator) for creator in citation.creators),
        # The second braces keep the capitals as they are.
        "title": f"{{{escaped(citation.title)}}}",
        "year": str(citation.issued.year),
        "month": str(citation.issued.month),
        "version": escaped(citation.version),
        "note": f"Version {escaped(citation.version)} [Dataset], {escaped(citation.identifier)}",
        "publisher": escaped(citation.publisher),
        # An address is set in verbatim by the styles; only what would end the field is coded.
        "url": citation.url.replace("{", "%7B").replace("}", "%7D").replace("\\", "%5C"),
        "doi": escaped(citation.doi),
        "copyright": escaped(citation.licence),
        "keywords": escaped(", ".join(citation.keywords)),
    }
    lines = [f"  {name} = {{{value}}}," for name, value in fields.items() if value]
    return "\n".join([f"@misc{{{citation.key},", *lines, "}"]) + "\n"


def ris(citation: Citation) -> str:
    """Give the citation in RIS, which most reference programs read."""
    lines = [("TY", "DATA")]
    lines += [
        ("AU", f"{creator.family}, {creator.given}" if creator.given else creator.family)
        for creator in citation.creators
    ]
    lines += [
        ("TI", citation.title),
        ("PY", str(citation.issued.year)),
        ("DA", citation.issued.strftime("%Y/%m/%d")),
        ("ET", citation.version),
        ("PB", citation.publisher),
        ("UR", citation.url),
        ("M1", citation.identifier),
        ("DO", citation.doi),
        ("AB", citation.abstract),
    ]
    lines += [("KW", word) for word in citation.keywords]
    written = [f"{tag}  - {_flat(value)}" for tag, value in lines if _flat(value)]
    return "\r\n".join([*written, "ER  - ", ""])


def erc(citation: Citation) -> str:
    """Give the citation as an electronic resource citation: who, what, when and where.

    References
    ----------
    Kunze and Turner, Kernel Metadata and Electronic Resource Citations (draft-kunze-erc; from
    memory).
    """
    who = "; ".join(
        f"{creator.family}, {creator.given}" if creator.given else creator.family
        for creator in citation.creators
    )
    parts = {
        "who": who or citation.publisher,
        "what": f"{citation.title}, version {citation.version}",
        "when": citation.issued.strftime("%Y%m%d"),
        "where": f"{citation.url} ({citation.identifier})",
    }
    return "erc:\n" + "".join(f"{name}: {_flat(value)}\n" for name, value in parts.items())


def csl_json(citation: Citation) -> list[dict[str, object]]:
    """Give the citation as CSL-JSON, the input of citation processors."""
    entry: dict[str, object] = {
        "id": citation.key,
        "type": "dataset",
        "title": _flat(citation.title),
        "author": [
            {"literal": creator.family}
            if creator.is_body
            else _filled({"family": creator.family, "given": creator.given})
            for creator in citation.creators
        ],
        "issued": {
            "date-parts": [[citation.issued.year, citation.issued.month, citation.issued.day]]
        },
        "version": citation.version,
        "publisher": citation.publisher,
        "URL": citation.url,
        "number": citation.identifier,
        "DOI": citation.doi,
        "abstract": citation.abstract,
        "keyword": ", ".join(citation.keywords),
    }
    return [{name: value for name, value in entry.items() if value}]


def cff(citation: Citation) -> str:
    """Give the citation as the text of a CITATION.cff file (YAML)."""
    authors = [_cff_author(creator) for creator in citation.creators]
    parts: dict[str, object] = {
        "cff-version": "1.2.0",
        "message": "If you use these data, please cite them as below.",
        "type": "dataset",
        "title": _flat(citation.title),
        "version": citation.version,
        "date-released": citation.issued.isoformat(),
        # The format demands an author; where none is named the publisher answers.
        "authors": authors or [{"name": citation.publisher}],
        "identifiers": [{"type": "other", "value": citation.identifier}],
        "doi": citation.doi if _CFF_DOI.fullmatch(citation.doi) else "",
        "url": citation.url,
        "license": citation.licence,
        "abstract": citation.abstract,
        "keywords": list(dict.fromkeys(citation.keywords)),
    }
    return "".join(_yaml(name, value) for name, value in parts.items() if value)


def _cff_author(creator: Creator) -> dict[str, str]:
    if creator.is_body:
        return {"name": creator.family}
    author = {
        "family-names": creator.family,
        "given-names": creator.given,
        "orcid": f"https://orcid.org/{creator.orcid}" if creator.orcid else "",
        "affiliation": creator.affiliation,
    }
    return _filled(author)


def _filled(parts: dict[str, str]) -> dict[str, str]:
    return {name: value for name, value in parts.items() if value}


def _yaml(name: str, value: object) -> str:
    """Write one key of the file; a JSON string is a YAML string in double quotes."""
    if not isinstance(value, list):
        return f"{name}: {_quoted(value)}\n"
    lines = [f"{name}:\n"]
    for item in value:
        if isinstance(item, dict):
            inner = [f"{key}: {_quoted(each)}\n" for key, each in item.items()]
            lines.append("  - " + "    ".join(inner))
        else:
            lines.append(f"  - {_quoted(item)}\n")
    return "".join(lines)


def _quoted(value: object) -> str:
    written = json.dumps(str(value), ensure_ascii=False)
    # YAML takes these for line ends or refuses them, JSON does not.
    return re.sub(
        "[\x7f-\x9f\u2028\u2029\ufeff\ud800-\udfff\ufffe\uffff]",
        lambda mark: f"\\u{ord(mark[0]):04x}",
        written,
    )
