"""What remains of a version that was withdrawn or erased: that it was, and why it is not.

References
----------
FAIR principle A2 (Wilkinson and others, 2016, Scientific Data 3, 160018): metadata stay when the
data no longer do.
"""

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum

from archive.exports.citation import NAME_REMOVED, Citation, Creator, text


class Reason(StrEnum):
    """Why a version is no longer there, in one of a few kinds; the story itself stays inside."""

    ERROR = "error"
    RIGHTS = "rights"
    PRIVACY = "privacy"
    WELFARE = "welfare"
    SECURITY = "security"
    LAW = "law"
    REQUEST = "request"

    @property
    def words(self) -> str:
        """The reason as a reader sees it."""
        return _WORDS[self]


_WORDS = {
    Reason.ERROR: "The data hold an error that cannot be mended in place.",
    Reason.RIGHTS: "Someone else holds rights in the data.",
    Reason.PRIVACY: "The data tell something of persons that should not be told.",
    Reason.WELFARE: "The data could be used to harm animals.",
    Reason.SECURITY: "The data could be used to harm a place.",
    Reason.LAW: "The law or a court forbids it.",
    Reason.REQUEST: "Those who made the data asked for it.",
}


@dataclass(frozen=True)
class Withdrawn:
    """A version that is no longer served.

    Parameters
    ----------
    citation : Citation
        How it was cited; it may still be.
    reason : Reason
        Kind of reason.
    withdrawn_on : date
        Day on which it ceased to be served.
    decided_by : str
        Who decided, as they are to be shown: an office, rather than a person.
    erased_on : date, optional
        Day on which its bytes were erased; None while they are kept, unserved.
    replacement : str
        Identifier of the version to use in its stead; empty where there is none.
    names_removed : bool
        Whether the names of those who made it are taken out.
    """

    citation: Citation
    reason: Reason
    withdrawn_on: date
    decided_by: str
    erased_on: date | None = None
    replacement: str = ""
    names_removed: bool = False


def tombstone(withdrawn: Withdrawn) -> dict[str, object]:
    """Give what is shown in place of a version that was withdrawn.

    Returns
    -------
    dict
        Fit for JSON: state, identifier, title, version, creators, dates (ISO 8601), reason (its
        class and its words), who decided, replacement (or None), and the citation with the
        note that it was withdrawn.
    """
    cited = withdrawn.citation
    if withdrawn.names_removed:
        cited = replace(cited, creators=(NAME_REMOVED,))
    return {
        "state": "erased" if withdrawn.erased_on else "withdrawn",
        "identifier": cited.identifier,
        "title": cited.title,
        "version": cited.version,
        "creators": [_shown(creator) for creator in cited.creators],
        "publisher": cited.publisher,
        "published_on": cited.issued.isoformat(),
        "withdrawn_on": withdrawn.withdrawn_on.isoformat(),
        "erased_on": withdrawn.erased_on.isoformat() if withdrawn.erased_on else None,
        "reason": {"class": withdrawn.reason.value, "words": withdrawn.reason.words},
        "decided_by": withdrawn.decided_by,
        "replacement": withdrawn.replacement or None,
        "citation": f"{text(cited)} [withdrawn {withdrawn.withdrawn_on.isoformat()}]",
        "url": cited.url,
    }


def _shown(creator: Creator) -> str:
    if creator == NAME_REMOVED:
        return "name removed"
    return f"{creator.family}, {creator.given}" if creator.given else creator.family
