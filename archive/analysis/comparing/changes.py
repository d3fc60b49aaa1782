"""Phases of one animal: what every place of the changes would have given."""

from dataclasses import dataclass
from itertools import groupby

import numpy as np

from archive.analysis.comparing.parts import Labels
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.phases import Phases
from registry.design.simulating.chance import Chance


def changes_of(plan: Phases, drawn: str) -> tuple[int, ...]:
    """Give the first sessions of the second and later phases, or refuse what was never admissible.

    Examples
    --------
    >>> changes_of(Phases(sessions=8, shortest=3), "AAAABBBB")
    (4,)
    """
    runs = [(letter, len(list(run))) for letter, run in groupby(drawn)]
    letters = "".join(letter for letter, _ in runs)
    if letters != plan.phases or min(length for _, length in runs) < plan.shortest:
        bounds.refuse(
            "phases",
            "This arrangement is not among those that could have been drawn.",
            f"The plan is {plan.phases} with {plan.shortest} sessions or more of each, and the "
            f"phases were {' '.join(f'{letter}{length}' for letter, length in runs)}.",
            "Give them as the register recorded them, with the plan they were drawn by.",
        )
    return tuple(np.cumsum([length for _, length in runs])[:-1].tolist())


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """The phases of one animal, whose changes might have come elsewhere.

    Parameters
    ----------
    plan : Phases
    changes : tuple of int
        First sessions of the second and later phases, as drawn.
    treatment : str
        Letter of the treatment.
    columns : ndarray of float, shape (sessions, columns)
    """

    plan: Phases
    changes: tuple[int, ...]
    treatment: str
    columns: Numbers

    @property
    def count(self) -> int:
        """How many places of the changes are admissible."""
        return self.plan.assignments

    @property
    def actual(self) -> Numbers:
        """The difference of means as drawn."""
        return np.asarray(self._apart(np.array([self.changes]))[0])

    def every(self) -> Numbers:
        """Give the difference of means for every place of the changes."""
        return self._apart(np.array(list(self.plan.starts())))

    def drawn(self, chance: Chance, times: int) -> Numbers:
        """Give it for places drawn at random."""
        later = len(self.plan.phases) - 1
        free = self.plan.sessions - self.plan.shortest * len(self.plan.phases)
        chosen = chance.uniform(times, free + later).argsort(axis=1)[:, :later]
        order = np.arange(later)
        return self._apart(np.sort(chosen, axis=1) - order + self.plan.shortest * (order + 1))

    def _apart(self, changes: Labels) -> Numbers:
        """Give treated mean less the other: sums of sessions are differences of running sums."""
        rows, last = len(changes), self.plan.sessions
        edges = np.column_stack([np.zeros(rows, int), changes, np.full(rows, last)])
        sums = np.vstack([np.zeros(self.columns.shape[1]), np.cumsum(self.columns, axis=0)])
        treated = np.array([one == self.treatment for one in self.plan.phases])
        if treated.all() or not treated.any():
            bounds.refuse(
                "treatment",
                "There is nothing to compare.",
                f"“{self.treatment}” is {'every' if treated.all() else 'no'} phase of the plan.",
                "Name the letter of the treatment.",
            )
        inside = (np.diff(edges, axis=1) * treated).sum(axis=1)[:, None]
        within = (np.diff(sums[edges], axis=1) * treated[None, :, None]).sum(axis=1)
        return np.asarray(within / inside - (sums[-1] - within) / (last - inside))
