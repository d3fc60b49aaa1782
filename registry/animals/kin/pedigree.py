"""A pedigree: who was born of whom, with every parent before its young."""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from registry.errors import Unsound

NONE = -1
"""The place of a parent that is not known."""


@dataclass(frozen=True, slots=True)
class Parents:
    """The parents of one animal; None where one is not known for sure."""

    dam: Hashable | None = None
    sire: Hashable | None = None


@dataclass(frozen=True)
class Pedigree:
    """Animals by their places, every parent at a lower place than its young.

    Parameters
    ----------
    names : tuple of hashable, length n
        What each animal is called outside, by place.
    dams, sires : tuple of int, length n
        Places of the parents, -1 where not known. A parent that is not known counts as a founder
        of its own, unrelated to all others and not inbred.

    Examples
    --------
    >>> line = Pedigree.of({"pup": Parents("ray", "skate"), "ray": Parents()})
    >>> line.names, line.dams, line.sires
    (('ray', 'skate', 'pup'), (-1, -1, 0), (-1, -1, 1))
    """

    names: tuple[Hashable, ...]
    dams: tuple[int, ...]
    sires: tuple[int, ...]
    places: Mapping[Hashable, int] = field(repr=False, compare=False)

    @classmethod
    def of(cls, born: Mapping[Any, Parents]) -> "Pedigree":
        """Put animals in order, parents first.

        Parameters
        ----------
        born : mapping of name to Parents
            A parent that is not itself a key is taken for a founder.

        Raises
        ------
        Unsound
            When an animal is its own ancestor: the sentence names the loop.

        Notes
        -----
        Depth first, without recursion: a line of thousands of generations does not exhaust the
        stack. An animal whose dam and sire are one (selfing) is allowed.
        """
        order: dict[Hashable, int] = {}
        unborn = Parents()
        for first in born:
            open_line: dict[Hashable, None] = {}
            todo = [first]
            while todo:
                name = todo[-1]
                if name in order:
                    todo.pop()
                    continue
                open_line[name] = None
                parents = born.get(name, unborn)
                waiting = [
                    one
                    for one in (parents.sire, parents.dam)
                    if one is not None and one not in order
                ]
                looped = next((one for one in waiting if one in open_line), None)
                if looped is not None:
                    raise _own_ancestor(looped, list(open_line))
                if waiting:
                    todo.extend(waiting)
                    continue
                order[name] = len(order)
                open_line.pop(name)
                todo.pop()
        return cls._placed(order, born)

    @classmethod
    def _placed(cls, order: Mapping[Hashable, int], born: Mapping[Any, Parents]) -> "Pedigree":
        unborn = Parents()
        dams, sires = [], []
        for name in order:
            parents = born.get(name, unborn)
            dams.append(NONE if parents.dam is None else order[parents.dam])
            sires.append(NONE if parents.sire is None else order[parents.sire])
        return cls(tuple(order), tuple(dams), tuple(sires), order)

    def __len__(self) -> int:
        return len(self.names)

    def ancestors(self, chosen: Iterable[int]) -> list[int]:
        """Give the places of these animals and of all their ancestors, parents first."""
        found = set(chosen)
        todo = list(found)
        while todo:
            place = todo.pop()
            for parent in (self.dams[place], self.sires[place]):
                if parent != NONE and parent not in found:
                    found.add(parent)
                    todo.append(parent)
        return sorted(found)

    def down_to(self, chosen: Iterable[Hashable]) -> "Pedigree":
        """Give the part of the pedigree that these animals come from.

        Raises
        ------
        KeyError
            When one of them is not in it.
        """
        kept = self.ancestors(self.places[name] for name in chosen)
        moved = {old: new for new, old in enumerate(kept)}
        moved[NONE] = NONE
        names = tuple(self.names[old] for old in kept)
        return Pedigree(
            names,
            tuple(moved[self.dams[old]] for old in kept),
            tuple(moved[self.sires[old]] for old in kept),
            {name: place for place, name in enumerate(names)},
        )


def own_ancestors(born: Mapping[Any, Parents]) -> list[Any]:
    """Give those that would be their own ancestors, in the order given.

    Parameters
    ----------
    born : mapping of name to Parents
        A parent that is not itself a key is taken for a founder.

    Examples
    --------
    >>> own_ancestors({"a": Parents("b"), "b": Parents("a"), "c": Parents("a")})
    ['a', 'b']

    Notes
    -----
    Whose parents all stand clear stands clear, until none is left that does; then, the other way,
    whose young all stand clear. What is left lies on a circle or between two.
    """
    parents = {name: {one.dam, one.sire} & born.keys() for name, one in born.items()}
    young: dict[Any, set[Any]] = {name: set() for name in born}
    for name, of in parents.items():
        for one in of:
            young[one].add(name)
    for above, below in ((parents, young), (young, parents)):
        clear = [name for name, of in above.items() if not of]
        while clear:
            name = clear.pop()
            for one in below.pop(name, ()):
                above[one].discard(name)
                if not above[one]:
                    clear.append(one)
            for one in above.pop(name, ()):
                below[one].discard(name)
    return [name for name in born if name in parents]


def _own_ancestor(looped: Hashable, line: list[Hashable]) -> Unsound:
    loop = [*line[line.index(looped) :], looped]
    said = ", a child of ".join(str(one) for one in loop[:6])
    return Unsound(
        f"{looped} cannot be its own ancestor.",
        f"As it is recorded it would be: {said}{' and so on' if loop[6:] else ''}.",
        "Look which of these parents is wrong, and correct that one.",
        fields={"parents": "makes an animal its own ancestor"},
    )
