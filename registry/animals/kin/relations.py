"""What two animals of a pedigree are to each other, in one word."""

from collections.abc import Hashable
from enum import StrEnum

from registry.animals.kin.pedigree import NONE, Pedigree


class Relation(StrEnum):
    """The nearest word for a pair; the second animal is this to the first."""

    PARENT = "parent"
    YOUNG = "young"
    FULL_SIB = "full sib"
    HALF_SIB = "half sib"
    GRANDPARENT = "grandparent"
    GRANDYOUNG = "grand-young"
    OTHER = "related"


def relation(pedigree: Pedigree, one: Hashable, other: Hashable) -> Relation:
    """Say what the other is to the one; `OTHER` also where they are not related.

    Raises
    ------
    KeyError
        When one of them is not in the pedigree.

    Examples
    --------
    >>> from registry.animals.kin.pedigree import Parents
    >>> line = Pedigree.of({"a": Parents("ma", "pa"), "b": Parents("ma", "pa")})
    >>> relation(line, "a", "b").value, relation(line, "a", "ma").value
    ('full sib', 'parent')
    """
    a, b = pedigree.places[one], pedigree.places[other]
    of_a, of_b = _parents(pedigree, a), _parents(pedigree, b)
    if b in of_a:
        return Relation.PARENT
    if a in of_b:
        return Relation.YOUNG
    shared = of_a & of_b
    if shared:
        # One known parent each is no more than half: the other parents count as unrelated.
        return Relation.FULL_SIB if len(shared) == 2 else Relation.HALF_SIB
    if any(b in _parents(pedigree, parent) for parent in of_a):
        return Relation.GRANDPARENT
    if any(a in _parents(pedigree, parent) for parent in of_b):
        return Relation.GRANDYOUNG
    return Relation.OTHER


def _parents(pedigree: Pedigree, place: int) -> set[int]:
    return {pedigree.dams[place], pedigree.sires[place]} - {NONE}
