"""The metadata record of a version, as registries of data take it.

References
----------
DataCite Metadata Schema 4.6 (December 2024): its mandatory properties, and those recommended that
are known here. SPDX licence identifiers.
"""

import xml.etree.ElementTree as ET

from archive.exports.citation import Citation, Creator
from archive.exports.licences import licence_of

KERNEL = "http://datacite.org/schema/kernel-4"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"
_LANG = "{http://www.w3.org/XML/1998/namespace}lang"


def record(citation: Citation, *, units: tuple[str, ...] = ()) -> bytes:
    """Give the record of a version.

    Parameters
    ----------
    citation : Citation
    units : tuple of str
        Sizes of the data in words ("1 204 rows", "96 kB").

    Returns
    -------
    bytes
        XML in UTF-8. Where nobody is named the publisher stands as the creator, since the schema
        asks for one.
    """
    root = ET.Element(
        "resource",
        {
            "xmlns": KERNEL,
            "xmlns:xsi": _XSI,
            "xsi:schemaLocation": f"{KERNEL} {KERNEL}.6/metadata.xsd",
        },
    )
    _add(root, "identifier", citation.identifier, identifierType="ARK")
    creators = ET.SubElement(root, "creators")
    for creator in citation.creators or (Creator(citation.publisher, is_body=True),):
        _creator(creators, creator)
    _add(ET.SubElement(root, "titles"), "title", citation.title, **{_LANG: "en"})
    _add(root, "publisher", citation.publisher)
    _add(root, "publicationYear", str(citation.issued.year))
    _add(root, "resourceType", "Dataset", resourceTypeGeneral="Dataset")
    if citation.keywords:
        subjects = ET.SubElement(root, "subjects")
        for word in citation.keywords:
            _add(subjects, "subject", word)
    dates = ET.SubElement(root, "dates")
    _add(dates, "date", citation.issued.isoformat(), dateType="Issued")
    _add(root, "language", "en")
    others = ET.SubElement(root, "alternateIdentifiers")
    _add(others, "alternateIdentifier", citation.url, alternateIdentifierType="URL")
    if citation.registered:
        scheme, _, name = citation.registered.partition(":")
        said = {"doi": "DOI", "hdl": "Handle"}[scheme]
        _add(others, "alternateIdentifier", name, alternateIdentifierType=said)
    if citation.sources:
        related = ET.SubElement(root, "relatedIdentifiers")
        for source in citation.sources:
            _add(
                related,
                "relatedIdentifier",
                source,
                relatedIdentifierType="ARK",
                relationType="IsDerivedFrom",
            )
    if units:
        sizes = ET.SubElement(root, "sizes")
        for said in units:
            _add(sizes, "size", said)
    _add(root, "version", citation.version)
    if citation.licence:
        licence = licence_of(citation.licence)
        _add(
            ET.SubElement(root, "rightsList"),
            "rights",
            licence.title,
            rightsURI=licence.path,
            rightsIdentifier=licence.id,
            rightsIdentifierScheme="SPDX",
            schemeURI="https://spdx.org/licenses/",
        )
    if citation.abstract.strip():
        descriptions = ET.SubElement(root, "descriptions")
        _add(descriptions, "description", citation.abstract, descriptionType="Abstract")
    ET.indent(root)
    made: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return made


def _creator(creators: ET.Element, creator: Creator) -> None:
    made = ET.SubElement(creators, "creator")
    if creator.is_body or not creator.given:
        kind = "Organizational" if creator.is_body else "Personal"
        _add(made, "creatorName", creator.family, nameType=kind)
    else:
        name = f"{creator.family}, {creator.given}"
        _add(made, "creatorName", name, nameType="Personal")
        _add(made, "givenName", creator.given)
        _add(made, "familyName", creator.family)
    if creator.orcid:
        _add(
            made,
            "nameIdentifier",
            creator.orcid,
            nameIdentifierScheme="ORCID",
            schemeURI="https://orcid.org",
        )
    if creator.affiliation:
        _add(made, "affiliation", creator.affiliation)


def _add(parent: ET.Element, name: str, text: str, **attributes: str) -> None:
    ET.SubElement(parent, name, attributes).text = _plain(text)


def _plain(text: str) -> str:
    """Leave out the signs that XML 1.0 has no way to write."""
    return "".join(sign for sign in text if sign in "\t\n\r" or sign >= " ").strip()
