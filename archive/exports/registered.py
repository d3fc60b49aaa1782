"""Identifiers that an agency registered for a version, beside the site's own: DOI or Handle.

References
----------
ANSI/NISO Z39.84 and ISO 26324 (DOI syntax); RFC 3650 and 3651 (Handle: naming authority, a stroke,
local name).
"""

import re

from registry.errors import Unsound

_DOI = re.compile(r"10\.[0-9]{4,9}(?:\.[0-9]+)*/\S+")
_DOI_LEADS = re.compile(r"(?i)^(?:https?://(?:dx\.)?doi\.org/|doi:\s*)")
_HANDLE = re.compile(r"(?i)(?:https?://hdl\.handle\.net/|hdl:\s*)([0-9]+(?:\.[0-9a-z]+)*/\S+)")
_RESOLVERS = {"doi": "https://doi.org/", "hdl": "https://hdl.handle.net/"}


def doi_in(said: str) -> str:
    """Give the bare DOI that was said, or "".

    >>> doi_in("https://doi.org/10.1371/journal.pone.0090081"), doi_in("10.1/x")
    ('10.1371/journal.pone.0090081', '')
    """
    bare = _DOI_LEADS.sub("", said.strip())
    return bare if _DOI.fullmatch(bare) else ""


def registered(said: str) -> str:
    """Give a DOI or a Handle in the one way in which it is kept.

    Parameters
    ----------
    said : str
        Bare (a DOI alone), with its scheme, or as an address.

    Raises
    ------
    Unsound
        When it is neither.

    Examples
    --------
    >>> registered("10.5555/12345678"), registered("https://hdl.handle.net/20.1000/105")
    ('doi:10.5555/12345678', 'hdl:20.1000/105')
    """
    if doi := doi_in(said):
        return f"doi:{doi.lower()}"
    if handle := _HANDLE.fullmatch(said.strip()):
        return f"hdl:{handle[1]}"
    why = "It is no DOI (10.…/…) and no Handle (hdl:…/…)."
    raise Unsound(
        "The identifier was not added.", why, "Copy it whole.", fields={"identifier": why}
    )


def resolved(identifier: str) -> str:
    """Give the address at which a registered identifier is resolved.

    >>> resolved("doi:10.5555/12345678")
    'https://doi.org/10.5555/12345678'
    """
    scheme, _, name = identifier.partition(":")
    return f"{_RESOLVERS[scheme]}{name}"
