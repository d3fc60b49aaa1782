"""PURE: whether an identifier of an output is one, and how it is written and followed.

References
----------
ANSI/NISO Z39.84 (DOI syntax); ISO 2108:2017 (ISBN, check digits of both lengths).
"""

import re

from archive.exports.registered import doi_in
from registry.errors import Unsound

_ISBN = re.compile(r"(?i)^isbn(?:-1[03])?:?\s*")
_ADDRESS = re.compile(r"https?://[^\s/.]+(?:\.[^\s/.]+)+(?:[/?#]\S*)?")


def checked(said: str) -> str:
    """Give an identifier in the one way in which it is kept; "" stays "".

    Parameters
    ----------
    said : str
        A DOI, bare or as an address; an ISBN of 10 or 13 digits; or another address.

    Raises
    ------
    Unsound
        Where it is none of these, or the check digit of an ISBN is wrong.

    Examples
    --------
    >>> checked("https://doi.org/10.1371/journal.pone.0090081")
    'doi:10.1371/journal.pone.0090081'
    >>> checked("ISBN 0-306-40615-2"), checked("978-0-306-40615-7")
    ('isbn:9780306406157', 'isbn:9780306406157')
    """
    said = said.strip()
    if not said:
        return ""
    if doi := doi_in(said):
        return f"doi:{doi}"
    digits = re.sub(r"[\s-]", "", _ISBN.sub("", said)).upper()
    if re.fullmatch(r"[0-9]{9}[0-9X]|[0-9]{13}", digits):
        return f"isbn:{_isbn_13(digits)}"
    if _ADDRESS.fullmatch(said):
        return said
    return _refused("It is no DOI (10.…/…), no ISBN, and no address that begins with http.")


def _isbn_13(digits: str) -> str:
    if len(digits) == 10:
        values = [10 if one == "X" else int(one) for one in digits]
        if sum(weight * value for weight, value in zip(range(10, 0, -1), values, strict=True)) % 11:
            _refused("The check digit of the ISBN does not fit its other digits.")
        digits = f"978{digits[:9]}"
        return digits + str(-_weighed(digits) % 10)
    if _weighed(digits) % 10:
        _refused("The check digit of the ISBN does not fit its other digits.")
    return digits


def _weighed(digits: str) -> int:
    return sum(int(one) * (3 if place % 2 else 1) for place, one in enumerate(digits))


def _refused(why: str) -> str:
    raise Unsound(
        "The output was not added.",
        why,
        "Copy it from the publication, or leave it out.",
        fields={"identifier": why},
    )


def followed(identifier: str) -> str:
    """Give the address to which an identifier leads; "" where it leads nowhere by itself.

    Examples
    --------
    >>> followed("doi:10.1371/journal.pone.0090081")
    'https://doi.org/10.1371/journal.pone.0090081'
    """
    if identifier.startswith("doi:"):
        return f"https://doi.org/{identifier.removeprefix('doi:')}"
    return identifier if identifier.startswith(("http://", "https://")) else ""
