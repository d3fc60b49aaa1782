"""ORCID iDs: read as people write them, checked, and kept in one form.

References
----------
ORCID, Structure of the ORCID Identifier: ISO 7064 MOD 11-2 over the first fifteen digits, and
the two blocks of numbers that are given out.
"""

import re

from django.utils.translation import gettext as _

from registry.errors import Unsound

ADDRESS = "https://orcid.org/"
"""Before an iD this makes its address."""

_WRITTEN = re.compile(
    r"(?:(?:https?://)?(?:www\.)?orcid\.org/)?"
    r"([0-9]{4})-?([0-9]{4})-?([0-9]{4})-?([0-9]{3}[0-9X])/?",
    re.IGNORECASE,
)
_BLOCKS = ((15_000_000, 35_000_000), (900_000_000_000, 900_100_000_000))
"""First and last numbers given out, without the check character."""


def check_character(digits: str) -> str:
    """Give the check character of the first fifteen digits.

    Parameters
    ----------
    digits : str
        Fifteen decimal digits.

    Returns
    -------
    str
        "0" to "9", or "X" for ten.

    Examples
    --------
    >>> check_character("000000021825009")
    '7'
    """
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2
    left = (12 - total % 11) % 11
    return "X" if left == 10 else str(left)


def normalise(text: str) -> str:
    """Read an ORCID iD and give it as sixteen characters with hyphens.

    Parameters
    ----------
    text : str
        The iD, with or without its address and its hyphens.

    Returns
    -------
    str
        "0000-0002-1825-0097", say.

    Raises
    ------
    Unsound
        With the complaint under the field "orcid".

    Examples
    --------
    >>> normalise("https://orcid.org/0000-0002-1694-233x")
    '0000-0002-1694-233X'
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise _unsound(text, "It must be four groups of four digits; the last may be an X.", "form")
    digits = "".join(match.groups()).upper()
    if check_character(digits[:15]) != digits[15]:
        raise _unsound(
            text,
            "Its last character does not agree with the others: one of them is a slip.",
            "slip",
        )
    if not any(first <= int(digits[:15]) <= last for first, last in _BLOCKS):
        raise _unsound(text, "No such number is given out to persons.", "block")
    return "-".join(digits[at : at + 4] for at in range(0, 16, 4))


def is_sound(text: str) -> bool:
    """Whether the text is an ORCID iD."""
    try:
        normalise(text)
    except Unsound:
        return False
    return True


def address(orcid: str) -> str:
    """Give the address of an ORCID iD.

    Raises
    ------
    Unsound
        When it is none.
    """
    return ADDRESS + normalise(orcid)


_COMPLAINTS = {
    "form": "is not written like an ORCID iD",
    "slip": "holds a slip: its check character does not agree",
    "block": "is not one that ORCID gives out",
}


def _unsound(text: str, why: str, kind: str) -> Unsound:
    return Unsound(
        _("%(text)s is no ORCID iD.") % {"text": f"{text.strip()!r}"},
        why,
        "Copy it from your ORCID page, or leave it out.",
        fields={"orcid": _COMPLAINTS[kind]},
    )
