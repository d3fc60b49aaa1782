"""Which rules carry the table of one dictionary over to another's: along mappings that hold."""

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from archive.extending.rules import Rule
from archive.models import Dictionary, DictionaryMapping


@dataclass(frozen=True)
class Way:
    """The mappings that lead from a table to another, the first one first."""

    mappings: tuple[DictionaryMapping, ...] = ()

    @property
    def rules(self) -> tuple[Rule, ...]:
        """Their rules, in the order in which they are applied."""
        return tuple(rule for one in self.mappings for rule in one.as_rules)


@dataclass(frozen=True)
class Ways:
    """All mappings that hold, and the versions of each study's dictionary."""

    mappings: tuple[DictionaryMapping, ...]
    next_one: dict[int, int]

    @classmethod
    def now(cls, mappings: Iterable[DictionaryMapping] | None = None) -> "Ways":
        """Give them as they stand, or of these mappings alone; one query each."""
        if mappings is None:
            mappings = DictionaryMapping.objects.accepted().order_by("pk")
        rows = Dictionary.objects.order_by("study", "number").values_list("study", "pk")
        listed = list(rows)
        following = pairwise(listed)
        return cls(
            tuple(mappings),
            {pk: after for (study, pk), (same, after) in following if study == same},
        )

    def between(self, old: int, old_table: str, new: int, table: str) -> Way | None:
        """Give the shortest way between two tables, dictionaries by their numbers; or None.

        A newer version of the same study's dictionary follows by itself; whether a rule is missing
        there is seen where the two ends are compared.
        """
        waiting = deque([(old, old_table, Way())])
        met = {(old, old_table)}
        while waiting:
            here, name, way = waiting.popleft()
            if (here, name) == (new, table):
                return way
            steps = [
                (one.new_id, one.table, Way((*way.mappings, one)))
                for one in self.mappings
                if (one.old_id, one.old_table) == (here, name)
            ]
            if here in self.next_one:
                steps.append((self.next_one[here], name, way))
            for step in steps:
                if step[:2] not in met:
                    met.add(step[:2])
                    waiting.append(step)
        return None

    def leads_to(self, new: int, table: str) -> set[tuple[int, str]]:
        """Give the tables from which a way leads to one, dictionaries by their numbers."""
        before: dict[tuple[int, str], set[tuple[int, str]]] = {}
        for one in self.mappings:
            before.setdefault((one.new_id, one.table), set()).add((one.old_id, one.old_table))
        back = {after: pk for pk, after in self.next_one.items()}
        found, waiting = {(new, table)}, [(new, table)]
        while waiting:
            here, name = waiting.pop()
            steps = set(before.get((here, name), ()))
            if here in back:
                steps.add((back[here], name))
            waiting += steps - found
            found |= steps
        return found
