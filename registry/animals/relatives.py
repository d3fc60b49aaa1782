"""What the pages say of kin: one animal's relatives, and how related the animals of a set are."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from registry.animals.kin import (
    Pedigree,
    Relation,
    effective_size,
    inbreeding,
    kinship_among,
    relation,
)
from registry.animals.models import Animal, Parentage
from registry.animals.pedigrees import lineage_of

MOST_SHOWN = 24
"""Relatives of one kind, or pairs of a set, that a page lists."""
MOST_TOGETHER = 300
"""Animals of a set of which the pairs are reckoned while a page waits."""
_MOST_NAMED = 5
HERITABILITIES = (0.2, 0.4, 0.6)
"""Low, middling and high shares of a trait's variance that are passed on: a house convention."""


@dataclass(frozen=True)
class Relative:
    """An animal with what it is to another."""

    animal: Animal
    said: str
    kinship: float


@dataclass(frozen=True)
class Kin:
    """One animal's parents as they are recorded, its near relatives, and its inbreeding.

    Parameters
    ----------
    parentage : list of Parentage
        As recorded, dam first; those that are not certain among them.
    relatives : list of Relative
        By certain parents: parents, sibs and young, the nearest first.
    more : int
        How many there are beyond those.
    inbreeding : float or None
        F, 0 to 1; None where not both parents are certain.
    """

    parentage: list[Parentage]
    relatives: list[Relative]
    more: int
    inbreeding: float | None

    @property
    def is_uncertain(self) -> bool:
        """Whether a recorded parent is not reckoned with."""
        return any(not one.is_certain for one in self.parentage)

    def as_dict(self) -> dict[str, Any]:
        """Give it as a program reads it."""
        return {
            "inbreeding": self.inbreeding,
            "relatives": [
                {"animal": one.animal.pk, "is_its": one.said, "kinship": one.kinship}
                for one in self.relatives
            ],
            "more": self.more,
            "uncertain": [
                {
                    "role": one.role,
                    "assumed": one.parent_id,
                    "candidates": [other.animal_id for other in one.candidates.all()],
                }
                for one in self.parentage
                if not one.is_certain
            ],
        }


def kin_of(animal: Animal) -> Kin:
    """Read one animal's kin; five queries, whatever the number of relatives."""
    held = lineage_of([animal.taxon_id], [animal.pk])
    parents = held.parents.get(animal.pk, {})
    near = dict.fromkeys([*parents.values(), *held.sibs_of(animal.pk), *held.young_of(animal.pk)])
    shown = list(near)[:MOST_SHOWN]
    found = Animal.objects.in_bulk(shown)
    kinships = kinship_among(held.pedigree, [animal.pk, *shown])[0][1:]
    relatives = [
        Relative(found[pk], _said(held.pedigree, animal.pk, pk, found[pk]), kinship)
        for pk, kinship in zip(shown, kinships, strict=True)
    ]
    relatives.sort(key=lambda one: -one.kinship)
    line = held.pedigree.down_to([animal.pk])
    return Kin(
        parentage=list(
            animal.parentage.standing()
            .select_related("parent")
            .prefetch_related("candidates__animal")
        ),
        relatives=relatives,
        more=len(near) - len(shown),
        inbreeding=inbreeding(line)[line.places[animal.pk]] if len(parents) == 2 else None,
    )


def _said(pedigree: Pedigree, one: int, other: int, row: Animal) -> str:
    """Say what the other is to the one, by its sex where the trade has a word for that."""
    found = relation(pedigree, one, other)
    sexed = {
        (Relation.PARENT, "female"): "dam",
        (Relation.PARENT, "male"): "sire",
        (Relation.GRANDPARENT, "female"): "grand-dam",
        (Relation.GRANDPARENT, "male"): "grand-sire",
    }
    return sexed.get((found, row.sex), found.value)


@dataclass(frozen=True)
class Pair:
    """Two animals of a set that are related."""

    one: Animal
    other: Animal
    said: str
    kinship: float


@dataclass(frozen=True)
class Relatedness:
    """How related the animals of a set are, and how many independent ones they are worth.

    Parameters
    ----------
    size : int
        Animals in the set.
    pairs : list of Pair
        Related pairs, the nearest first, 24 at most.
    number_of_pairs : int
        All related pairs.
    worth : list of (float, float)
        Share of a trait's variance that is passed on, with the animals that the set is worth then.
    uncertain : list of Animal
        Those of which a parent is not certain, and was not reckoned with.
    unknown : int
        Those of which no parent is certain; each counts as unrelated to all but its own young.
    """

    size: int
    pairs: list[Pair]
    number_of_pairs: int
    worth: list[tuple[float, float]]
    uncertain: list[Animal]
    unknown: int


def relatedness_of(animals: Sequence[Animal]) -> Relatedness | None:
    """Reckon how related animals are; None for fewer than two, or more than 300.

    Two queries, whatever the number.
    """
    rows = {one.pk: one for one in animals}
    if not 2 <= len(rows) <= MOST_TOGETHER:
        return None
    keys = list(rows)
    held = lineage_of({one.taxon_id for one in animals}, keys)
    kinship = kinship_among(held.pedigree, keys)
    related = [
        (kinship[a][b], keys[a], keys[b])
        for a in range(len(keys))
        for b in range(a)
        if kinship[a][b] > 0
    ]
    related.sort(key=lambda pair: -pair[0])
    return Relatedness(
        size=len(rows),
        pairs=[
            Pair(rows[a], rows[b], _said(held.pedigree, a, b, rows[b]), value)
            for value, a, b in related[:MOST_SHOWN]
        ],
        number_of_pairs=len(related),
        worth=[(share, effective_size(kinship, share)) for share in HERITABILITIES],
        uncertain=[one for one in animals if one.pk in held.uncertain],
        unknown=sum(not held.parents.get(pk) for pk in keys),
    )


def near_kin_among(animals: Sequence[Animal]) -> dict[int, list[str]]:
    """Say of each animal which others of the set are its parents, young or sibs, five at most.

    Two queries, whatever the number.
    """
    rows = {one.pk: one for one in animals}
    if not 2 <= len(rows) <= MOST_TOGETHER:
        return {}
    held = lineage_of({one.taxon_id for one in animals}, rows)
    said: dict[int, list[str]] = {}
    for pk in rows:
        near: list[Any] = [*held.parents.get(pk, {}).values(), *held.sibs_of(pk)]
        near += held.young_of(pk)
        here = [other for other in dict.fromkeys(near) if other in rows]
        for other in here[:_MOST_NAMED]:
            words = _said(held.pedigree, pk, other, rows[other])
            said.setdefault(pk, []).append(f"{rows[other]} ({words})")
        if here[_MOST_NAMED:]:
            said[pk].append("…")
    return said
