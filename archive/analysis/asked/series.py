"""Animals through their sessions, one value for each, with the phase that it was in."""

from dataclasses import dataclass
from itertools import groupby

import numpy as np

from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds


@dataclass(frozen=True, slots=True)
class Watch:
    """One animal through its sessions.

    Parameters
    ----------
    animal : str
    phases : tuple of str
        The phase of each session, in order.
    values : ndarray of float, shape (sessions,)
    """

    animal: str
    phases: tuple[str, ...]
    values: Numbers

    @property
    def runs(self) -> tuple[str, ...]:
        """The phases in order, each once."""
        return tuple(name for name, _ in groupby(self.phases))

    def mean(self, phase: str) -> float:
        """Give the mean of the sessions of a phase."""
        return float(self.values[np.array([one == phase for one in self.phases])].mean())

    def by_run(self) -> Numbers:
        """Give the mean of each stretch of one phase."""
        found, at = [], 0
        for _, run in groupby(self.phases):
            length = len(list(run))
            found.append(float(self.values[at : at + length].mean()))
            at += length
        return np.array(found)


def watches_in(frame: Frame, request: Request, gaps: list[Gap]) -> list[Watch]:
    """Give each animal its sessions in order; rows of one session are measures of it."""
    values = frame.numbers(request.column("outcome"))
    animal = frame.animals(request.column("animal"), gaps)
    phase = frame.words(request.column("phase"))
    order = frame.ranks(request.column("order"))
    good = np.isfinite(values) & np.isfinite(order) & animal.known & phase.known
    leave_out(good, "They lack an animal, a phase, a session or an outcome.", gaps)
    found = []
    for code, name in enumerate(animal.words):
        own = good & (animal.codes == code)
        if not own.any():
            continue
        sessions, where = np.unique(order[own], return_inverse=True)
        phases = phase.codes[own]
        first = np.full(len(sessions), -1)
        first[where[::-1]] = phases[::-1]
        if (phases != first[where]).any():
            gaps.append(
                Gap(f"Left out: {name}.", "A session of it stands in two phases.")
            )  # fmt: skip
            continue
        means = np.bincount(where, values[own]) / np.bincount(where)
        found.append(Watch(name, tuple(phase.words[one] for one in first), means))
    return found


def with_both(watches: list[Watch], gaps: list[Gap]) -> list[Watch]:
    """Give the animals that had both phases, and tell of the others."""
    alone = [one.animal for one in watches if len(one.runs) < 2]
    if alone:
        gaps.append(Gap(f"Left out: {few_named(alone)}.", "They had one phase alone."))
    kept = [one for one in watches if len(one.runs) > 1]
    if not kept:
        bounds.refuse("phase", "Phases cannot be compared.", "No animal had both.",
                      "Compare separate animals.")  # fmt: skip
    return kept
