"""The chain: canonical text, digests, and the check of a sequence of entries. Pure."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

START = "0" * 64


@dataclass(frozen=True)
class Link:
    """One entry as the chain sees it.

    Parameters
    ----------
    number : int
        From 1, without a gap.
    text : str
        The canonical text that was hashed, exactly.
    previous, digest : str
        SHA-256 in hexadecimal, 64 characters.
    """

    number: int
    text: str
    previous: str
    digest: str


def canonical(facts: Mapping[str, object]) -> str:
    """Give the one text of these facts: JSON with sorted keys and no spare white space.

    Raises
    ------
    ValueError
        For a number that JSON cannot say (NaN, infinity).
    """
    return json.dumps(
        facts, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )


def digest_of(text: str, previous: str) -> str:
    """Give the digest of an entry: SHA-256 over the digest before it and the canonical text."""
    return hashlib.sha256(f"{previous}\n{text}".encode()).hexdigest()


def reason_digest(reason: str, salt: str) -> str:
    """Give the salted digest of a reason: the words can be erased and the chain still holds."""
    return hashlib.sha256(f"{salt}\n{reason}".encode()).hexdigest() if reason else ""


@dataclass(frozen=True)
class Fault:
    """Where a chain does not hold, and how."""

    number: int
    what: str


def faults(links: Iterable[Link], *, anchor: tuple[int, str] | None = None) -> Iterator[Fault]:
    """Yield each place where the chain does not hold, in order.

    Parameters
    ----------
    links : iterable of Link
        In the order of their numbers.
    anchor : (int, str), optional
        A number and digest that were kept elsewhere: finds a tail cut off and a chain recomputed.
    """
    previous, expected, anchored = START, 1, anchor is None
    for link in links:
        if link.number != expected:
            yield Fault(expected, f"entries {expected} to {link.number - 1} are missing")
        if link.previous != previous:
            yield Fault(link.number, "it does not follow the entry before it")
        if digest_of(link.text, link.previous) != link.digest:
            yield Fault(link.number, "its text was altered")
        if anchor is not None and link.number == anchor[0]:
            anchored = True
            if link.digest != anchor[1]:
                yield Fault(link.number, "it differs from the digest kept elsewhere")
        previous, expected = link.digest, link.number + 1
    if not anchored and anchor is not None:
        yield Fault(anchor[0], "the entry whose digest is kept elsewhere is missing")
