"""Identifiers that say nothing: ARKs with a random name and a check character.

An identifier outlives the people, the years and the cohorts of the thing that it names, so it
holds none of them, and it cannot be guessed from another one. The register keeps it as opaque
text, so that another scheme can stand beside it.

References
----------
Kunze, J. and Bermès, E., The ARK Identifier Scheme (Internet-Draft draft-kunze-ark).
Kunze, J., Noid: nice opaque identifiers (2004 on), on its check digit algorithm.
"""

import re
import secrets
from dataclasses import dataclass

from registry.errors import Unsound

BETANUMERIC = "0123456789bcdfghjkmnpqrstvwxz"
"""Digits and consonants without l: 29 characters, a prime number, and no words by accident."""

TEST_NAAN = "99999"
"""Name assigning authority number set aside for tests: such an ARK promises nothing."""

SHOULDER = "s1"
"""Default shoulder: letters closed by one digit, so that one can see where it ends."""

BLADE = 10
"""Random characters in a name: 29**10, about 4.2e14."""

_ARK = re.compile(
    r"ark:/?(?P<naan>[0-9bcdfghjkmnpqrstvwxz]+)/(?P<name>[0-9A-Za-z]+)"
    r"(?:\.v(?P<version>[0-9]+(?:\.[0-9]+){0,2}))?"
)
_SHOULDER = re.compile(r"[bcdfghjkmnpqrstvwxz]+[0-9]")
_NAAN = re.compile(r"[0-9bcdfghjkmnpqrstvwxz]{5,9}")
_HYPHENS = re.compile("[-\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{EN DASH}\N{EM DASH}\N{MINUS SIGN}]")


@dataclass(frozen=True)
class Ark:
    """An ARK in its parts.

    Parameters
    ----------
    naan : str
        Number of the authority that gave the name.
    name : str
        Shoulder, blade and check character.
    version : str
        Version that the qualifier names ("1" or "1.0.0"); empty for the dataset as a whole.
    """

    naan: str
    name: str
    version: str = ""

    @property
    def base(self) -> str:
        """The identifier of the dataset as a whole, without a qualifier."""
        return f"ark:{self.naan}/{self.name}"

    def __str__(self) -> str:
        return f"{self.base}.v{self.version}" if self.version else self.base


def check_character(name: str) -> str:
    """Give the NOID check character of a name with its authority number.

    Parameters
    ----------
    name : str
        "NAAN/name" without the check character.

    Returns
    -------
    str
        One betanumeric character.

    Notes
    -----
    Each character's value (0-28 in the betanumeric alphabet, 0 for any other) is weighted by its
    position, from 1; the sum modulo 29 is the check. Any single wrong character, and any two that
    changed places, are found in names shorter than 29 characters.

    Examples
    --------
    >>> check_character("13030/xf93gt2")
    'q'
    """
    total = sum(place * max(BETANUMERIC.find(mark), 0) for place, mark in enumerate(name, start=1))
    return BETANUMERIC[total % len(BETANUMERIC)]


def mint(naan: str = TEST_NAAN, shoulder: str = SHOULDER) -> str:
    """Give a new identifier that nobody could have guessed.

    Parameters
    ----------
    naan : str
        The institution's authority number.
    shoulder : str
        Consonants closed by one digit; it sets apart who gives names under one number.

    Returns
    -------
    str
        "ark:NAAN/shoulder+blade+check". The draw comes from the system's own source of
        randomness and has no seed.

    Raises
    ------
    ValueError
        When the number or the shoulder is not made as it must be.
    """
    if not _NAAN.fullmatch(naan):
        raise ValueError(f"{naan!r} is no authority number: 5 to 9 betanumeric characters")
    if not _SHOULDER.fullmatch(shoulder):
        raise ValueError(f"{shoulder!r} is no shoulder: consonants but l, then one digit")
    name = shoulder + "".join(secrets.choice(BETANUMERIC) for _ in range(BLADE))
    return f"ark:{naan}/{name}{check_character(f'{naan}/{name}')}"


def parse(text: str) -> Ark:
    """Read an identifier as people write it, and check it.

    Parameters
    ----------
    text : str
        An ARK, in the newer form or the older one with a slash, perhaps behind the address of
        a site; hyphens in it mean nothing and are dropped.

    Returns
    -------
    Ark
        Its parts, in the newer form.

    Raises
    ------
    Unsound
        When it is no ARK, or its check character is wrong.

    Examples
    --------
    >>> str(parse("https://archive.example.org/ark:/13030/xf93-gt2q"))
    'ark:13030/xf93gt2q'
    """
    tail = _HYPHENS.sub("", text.strip())
    at = tail.lower().find("ark:")
    match = _ARK.fullmatch("ark:" + tail[at + 4 :]) if at >= 0 else None
    if match is None:
        raise Unsound(
            f"{text!r} is no identifier of this archive.",
            "One looks like ark:99999/s1 and eleven more digits and letters, perhaps with .v1.",
            "Copy it whole from the dataset's page.",
            fields={"identifier": "is no ARK"},
        )
    naan, name = match["naan"], match["name"].lower()
    if check_character(f"{naan}/{name[:-1]}") != name[-1]:
        raise Unsound(
            f"The identifier {text!r} holds a slip.",
            "Its last character does not agree with the others, so one of them is wrong.",
            "Copy it again from where it was printed.",
            fields={"identifier": "its check character does not agree"},
        )
    return Ark(naan, name, match["version"] or "")


def is_sound(text: str) -> bool:
    """Whether the text is an ARK whose check character agrees."""
    try:
        parse(text)
    except Unsound:
        return False
    return True


def qualify(identifier: str, version: str | int) -> str:
    """Give the identifier of one version of a dataset.

    Parameters
    ----------
    identifier : str
        The dataset's identifier.
    version : str or int
        1, "1" or "1.0.0".

    Examples
    --------
    >>> qualify("ark:13030/xf93gt2q", 1)
    'ark:13030/xf93gt2q.v1'
    """
    whole = parse(identifier)
    if not re.fullmatch(r"[0-9]+(\.[0-9]+){0,2}", str(version)):
        raise ValueError(f"{version!r} is no version number")
    return str(Ark(whole.naan, whole.name, str(version)))
