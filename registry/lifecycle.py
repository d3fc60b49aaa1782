"""A lifecycle is a frozen table: (state, verb) -> state. It says what may follow, no more."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from registry.errors import Conflict


@dataclass(frozen=True)
class Lifecycle:
    """The states of one kind of object, and the verbs that lead from one to another.

    Parameters
    ----------
    kind : str
        The singular noun of the object, as people say it ("question").
    first : str
        The state in which an object begins.
    steps : mapping of (state, verb) to state
        A verb that leaves the state as it is (it changes other facts) maps to the same state.
    reasons : frozenset of str
        Verbs that require a reason.
    """

    kind: str
    first: str
    steps: Mapping[tuple[str, str], str]
    reasons: frozenset[str] = field(default_factory=frozenset)

    def __post_init__(self) -> None:
        object.__setattr__(self, "steps", MappingProxyType(dict(self.steps)))

    @property
    def states(self) -> tuple[str, ...]:
        """Every state, the first one first, in the order of the table."""
        seen = dict.fromkeys([self.first])
        for (state, _), after in self.steps.items():
            seen.setdefault(state)
            seen.setdefault(after)
        return tuple(seen)

    @property
    def choices(self) -> list[tuple[str, str]]:
        """The states as (value, label) pairs for a model field."""
        return [(state, state.replace("_", " ")) for state in self.states]

    def verbs_from(self, state: str) -> tuple[str, ...]:
        """The verbs that may follow in this state."""
        return tuple(verb for (before, verb) in self.steps if before == state)

    def states_before(self, verb: str) -> tuple[str, ...]:
        """The states in which a verb may be done."""
        return tuple(before for (before, name) in self.steps if name == verb)

    def after(self, state: str, verb: str) -> str:
        """Give the state that follows.

        Raises
        ------
        Conflict
            When the verb cannot be done in this state.
        """
        try:
            return self.steps[state, verb]
        except KeyError:
            said = verb.replace("_", " ")
            now = state.replace("_", " ")
            before = self.states_before(verb)
            when = " or ".join(name.replace("_", " ") for name in before) or "no state"
            raise Conflict(
                f"The step “{said}” was not taken on this {self.kind}.",
                f"It is {now} now, and that step is open only when it is {when}.",
                "Look at the page again: someone may have moved it on.",
            ) from None
