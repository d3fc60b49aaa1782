"""The recorded pedigree of whole taxa, as the sums on kin need it."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from registry.animals.kin import Parents, Pedigree
from registry.animals.models import Animal, Event, Group, Parentage, Taxon

_FAMILIES = (Group.Sort.CLUTCH, Group.Sort.LITTER)
"""Groups whose animals are sibs: who is drawn from one has its parents."""


@dataclass(frozen=True)
class Lineage:
    """Who is born of whom for certain, and of whom that is not known for certain.

    Parameters
    ----------
    pedigree : Pedigree
        By keys of animals; only certain parents are in it.
    parents : dict of int to dict of str to int
        The certain parents of each animal that has one, by their role.
    uncertain : frozenset of int
        Animals of which a parent is assumed, or one of several: none of these is reckoned with.
    """

    pedigree: Pedigree
    parents: dict[int, dict[str, int]]
    uncertain: frozenset[int]

    def young_of(self, animal: int) -> list[int]:
        """Give the certain young of an animal."""
        return [young for young, parents in self.parents.items() if animal in parents.values()]

    def sibs_of(self, animal: int) -> list[int]:
        """Give the animals that share a certain parent with this one."""
        own = set(self.parents.get(animal, {}).values())
        return [
            other
            for other, parents in self.parents.items()
            if other != animal and not own.isdisjoint(parents.values())
        ]


def lineage_of(taxa: Iterable[Taxon | int], animals: Iterable[int] = ()) -> Lineage:
    """Read the pedigree of taxa: two queries, whatever the number of animals.

    Parameters
    ----------
    taxa : iterable of Taxon or key
        Parents are of the same taxon as their young, so these are all that is needed.
    animals : iterable of int
        Animals that are to be in it though neither a parent nor a young of theirs is recorded.

    Raises
    ------
    Unsound
        When an animal is its own ancestor; the deeds refuse that, so it was written past them.
    """
    parents: dict[int, dict[str, int]] = {}
    uncertain: set[int] = set()
    told: set[tuple[int, str]] = set()
    for animal, role, parent, evidence in (*_own(taxa), *_of_families(taxa)):
        if (animal, role) in told:  # what is said of the animal itself goes before its family's
            continue
        told.add((animal, role))
        if parent is None or evidence == Parentage.Evidence.ASSUMED:
            uncertain.add(animal)
        else:
            parents.setdefault(animal, {})[role] = parent
    born = {one: Parents(**both) for one, both in parents.items()}
    for one in animals:
        born.setdefault(one, Parents())
    return Lineage(Pedigree.of(born), parents, frozenset(uncertain))


type _Told = tuple[int, str, int | None, str]


def _own(taxa: Iterable[Taxon | int]) -> Iterable[_Told]:
    rows = Parentage.objects.standing().filter(animal__taxon__in=taxa)
    return rows.values_list("animal", "role", "parent", "evidence").order_by()


def _of_families(taxa: Iterable[Taxon | int]) -> Iterable[_Told]:
    """Give the parents of the clutch or litter from which an animal was drawn.

    A family that others joined is none any more, and says nothing of whom was drawn from it.
    """
    mixed = Event.objects.filter(
        group=OuterRef("drawn_from"), sort__in=(Event.Sort.JOINED, Event.Sort.MERGED)
    )
    rows = Animal.objects.filter(
        taxon__in=taxa,
        drawn_from__sort__in=_FAMILIES,
        drawn_from__parentage__replaced_at=None,
        drawn_from__parentage__isnull=False,
    ).exclude(Exists(mixed))
    said = ("role", "parent", "evidence")
    return rows.values_list("pk", *(f"drawn_from__parentage__{one}" for one in said)).order_by()
