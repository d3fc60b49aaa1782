"""The licences that a dataset may carry: a closed list, by SPDX identifier.

References
----------
SPDX License List (identifiers and titles); the canonical addresses are those of each licence's
own publisher.
"""

from dataclasses import dataclass
from types import MappingProxyType

from registry.errors import Unsound


@dataclass(frozen=True)
class Licence:
    """One licence.

    Parameters
    ----------
    id : str
        SPDX identifier.
    title : str
        Its full name.
    path : str
        Canonical address of its text.
    is_open : bool
        Whether anyone may use the data for any purpose.
    asks : str
        What it asks of those who use the data, in one sentence.
    """

    id: str
    title: str
    path: str
    is_open: bool
    asks: str


LICENCES = MappingProxyType(
    {
        licence.id: licence
        for licence in (
            Licence(
                "CC-BY-4.0",
                "Creative Commons Attribution 4.0 International",
                "https://creativecommons.org/licenses/by/4.0/",
                is_open=True,
                asks="Name those who made the data and say what you changed.",
            ),
            Licence(
                "CC0-1.0",
                "Creative Commons Zero v1.0 Universal",
                "https://creativecommons.org/publicdomain/zero/1.0/",
                is_open=True,
                asks="It asks for nothing; citing the data is good manners.",
            ),
            Licence(
                "CC-BY-NC-4.0",
                "Creative Commons Attribution Non Commercial 4.0 International",
                "https://creativecommons.org/licenses/by-nc/4.0/",
                is_open=False,
                asks="Name those who made the data, and do not use them commercially.",
            ),
            Licence(
                "OGL-UK-3.0",
                "Open Government Licence v3.0",
                "https://www.nationalarchives.gov.uk/doc/open-government-licence/version/3/",
                is_open=True,
                asks="Name the source of the data and link to the licence.",
            ),
            Licence(
                "ODbL-1.0",
                "Open Data Commons Open Database License v1.0",
                "https://opendatacommons.org/licenses/odbl/1-0/",
                is_open=True,
                asks="Name the source, and share what you make of the data alike.",
            ),
            Licence(
                "PDDL-1.0",
                "Open Data Commons Public Domain Dedication & License 1.0",
                "https://opendatacommons.org/licenses/pddl/1-0/",
                is_open=True,
                asks="It asks for nothing; citing the data is good manners.",
            ),
        )
    }
)
"""Every licence that may be chosen, by its SPDX identifier, in the order in which they are
offered."""


def licence_of(spdx_id: str) -> Licence:
    """Give the licence of that SPDX identifier.

    Raises
    ------
    Unsound
        When it is not on the list.
    """
    try:
        return LICENCES[spdx_id]
    except KeyError:
        raise Unsound(
            f"The licence {spdx_id!r} cannot be chosen.",
            "Only licences on the archive's list are kept, so that every reader knows the terms.",
            f"Choose one of {', '.join(LICENCES)}.",
            fields={"licence": "is not on the list"},
        ) from None


def notice(licence: Licence, citation: str) -> str:
    """Give the text of the LICENSE file that goes with a version.

    Parameters
    ----------
    licence : Licence
        The version's licence.
    citation : str
        How the version is cited.
    """
    return (
        f"{licence.title} ({licence.id})\n\n"
        f"{citation}\n\n"
        f"These data are made available under the licence named above. {licence.asks}\n"
        f"The whole of its text is at {licence.path}\n"
    )
