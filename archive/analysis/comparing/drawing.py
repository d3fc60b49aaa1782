"""What was drawn: arms, blocks, phases, orders or an accepted set, and the parts it falls into."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from archive.analysis.columns import Flags, rows_of
from archive.analysis.comparing.changes import Changes, changes_of
from archive.analysis.comparing.parts import Dealt, Labels, Listed, Part
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.phases import Phases


class Drawn(Protocol):
    """A design of two treatments whose arrangements can be gone through."""

    @property
    def treated(self) -> Flags:
        """Which observations were under the treatment: shape (observations,)."""

    @property
    def mirrored(self) -> bool:
        """Whether every arrangement has a mirror image that is as likely."""

    def parts(self, columns: Numbers) -> list[Part]:
        """Give the parts, for statistics that are differences of means.

        Parameters
        ----------
        columns : ndarray of float, shape (observations, columns)
        """


def _both_there(treated: Flags, field: str, where: str) -> None:
    if treated.all() or not treated.any():
        bounds.refuse(
            field,
            "There is nothing to compare.",
            f"{where} has one treatment alone.",
            "Leave it out, or give the other treatment's observations too.",
        )


@dataclass(frozen=True, slots=True, eq=False)
class Arms:
    """Units dealt to two arms, freely or within blocks, pairs or strata.

    Parameters
    ----------
    in_treatment : array_like of bool, shape (units,)
    block : sequence of hashable, optional
        Block of each unit; each block has units of both arms and counts once.
    """

    in_treatment: ArrayLike
    block: Sequence[Hashable] | None = None

    @property
    def treated(self) -> Flags:
        """Which units were treated."""
        return np.asarray(self.in_treatment, dtype=bool)

    @property
    def blocks(self) -> list[Labels]:
        """The units of each block."""
        if self.block is None:
            return [np.arange(len(self.treated))]
        return list(rows_of(self.block).values())

    @property
    def mirrored(self) -> bool:
        """Whether both arms are of one size in every block."""
        return all(2 * self.treated[units].sum() == len(units) for units in self.blocks)

    def parts(self, columns: Numbers) -> list[Part]:
        """Give a part for each block."""
        found: list[Part] = []
        for number, units in enumerate(self.blocks, 1):
            labels = self.treated[units]
            _both_there(labels, "block", f"Block {number}" if self.block else "The data")
            own = columns[units] / len(self.blocks)
            values = np.stack([-own / (~labels).sum(), own / labels.sum()], axis=1)
            found.append(Dealt(values, labels.astype(np.intp)))
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Accepted:
    """Units dealt to two arms until what was known of them was balanced: rerandomisation.

    Parameters
    ----------
    in_treatment : array_like of bool, shape (units,)
    accepted : array_like of bool, shape (arrangements, units)
        All that would have been accepted, the drawn one among them.

    References
    ----------
    Morgan, K. L. and Rubin, D. B. (2012). Annals of Statistics 40, 1263–1282.
    """

    in_treatment: ArrayLike
    accepted: ArrayLike

    @property
    def treated(self) -> Flags:
        """Which units were treated."""
        return np.asarray(self.in_treatment, dtype=bool)

    @property
    def mirrored(self) -> bool:
        """Whether both arms are of one size."""
        return bool(2 * self.treated.sum() == len(self.treated))

    def parts(self, columns: Numbers) -> list[Part]:
        """Give the accepted set as one part."""
        return [_listed(np.asarray(self.accepted, dtype=bool), self.treated, columns)]


@dataclass(frozen=True, slots=True, eq=False)
class Phased:
    """Animals watched through phases whose changes were drawn for each animal by itself.

    Parameters
    ----------
    plans : sequence of Phases
        One for each animal, in the order in which their sessions stand in the data.
    phases : sequence of str
        Letters of the phases as drawn, one for each session, for each animal.
    treatment : str, default "B"
        The letter of the treatment; all others are set against it.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed., ch. 11.
    """

    plans: Sequence[Phases]
    phases: Sequence[str]
    treatment: str = "B"

    def __post_init__(self) -> None:
        for plan, drawn in zip(self.plans, self.phases, strict=True):
            if len(drawn) != plan.sessions:
                bounds.refuse(
                    "phases",
                    "The phases do not fit the plan.",
                    f"{len(drawn)} sessions were given, and the plan has {plan.sessions}.",
                    "Give one letter for each planned session, in order.",
                )

    @property
    def treated(self) -> Flags:
        """Which sessions were under the treatment, animal after animal."""
        return np.array([one == self.treatment for one in "".join(self.phases)])

    @property
    def mirrored(self) -> bool:
        """Never: a change that comes late has no mirror image."""
        return False

    def parts(self, columns: Numbers) -> list[Part]:
        """Give a part for each animal, each of which counts once."""
        found: list[Part] = []
        begin = 0
        for plan, drawn in zip(self.plans, self.phases, strict=True):
            own = columns[begin : begin + plan.sessions] / len(self.plans)
            found.append(Changes(plan, changes_of(plan, drawn), self.treatment, own))
            begin += plan.sessions
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Ordered:
    """Animals that went through the treatments in orders that were dealt among them.

    Parameters
    ----------
    sequences : sequence of sequence of str
        Treatment of each period, for each animal; observations stand animal after animal.
    treatment, control : str
    """

    sequences: Sequence[Sequence[str]]
    treatment: str
    control: str

    @property
    def treated(self) -> Flags:
        """Which periods were under the treatment."""
        return np.array([one == self.treatment for row in self.sequences for one in row])

    @property
    def mirrored(self) -> bool:
        """Never, unless the orders come in pairs, which is not looked for."""
        return False

    def parts(self, columns: Numbers) -> list[Part]:
        """Give one part: orders dealt anew among animals, which count once each."""
        rows = [tuple(one) for one in self.sequences]
        kinds = list(dict.fromkeys(rows))
        periods = len(rows[0])
        if {len(one) for one in rows} != {periods}:
            bounds.refuse(
                "sequences",
                "Every animal has as many periods.",
                "Some have more than others.",
                "Leave out animals that did not finish, and say so.",
            )
        own = columns.reshape(len(rows), periods, -1) / len(rows)
        weights = np.array([self._weights(one) for one in kinds])
        values = np.einsum("kp,upc->ukc", weights, own)
        return [Dealt(values, np.array([kinds.index(one) for one in rows]))]

    def _weights(self, order: Sequence[str]) -> Numbers:
        treated = np.array([one == self.treatment for one in order])
        control = np.array([one == self.control for one in order])
        if not (treated.any() and control.any()):
            bounds.refuse(
                "sequences",
                "An animal did not get both treatments.",
                f"Its order was {' '.join(order)}.",
                "Leave it out, and say so.",
            )
        return np.asarray(treated / treated.sum() - control / control.sum())


def _listed(rows: Flags, actual: Flags, columns: Numbers) -> Listed:
    """List the differences of means under every arrangement, or refuse one not among them."""
    if rows.ndim != 2 or rows.shape[1] != len(actual) or not (rows == actual).all(axis=1).any():
        bounds.refuse(
            "accepted",
            "This arrangement is not among those that could have been drawn.",
            "So it cannot be set against them.",
            "Give it as the register recorded it, with the covariates it was balanced for.",
        )
    for row in (actual, *rows[rows.all(axis=1) | ~rows.any(axis=1)]):
        _both_there(row, "accepted", "An allocation")

    def apart(chosen: Flags) -> Numbers:
        inside = chosen.sum(axis=1)
        weights = np.where(chosen, 1 / inside[:, None], -1 / (~chosen).sum(axis=1)[:, None])
        return np.asarray(weights @ columns)

    return Listed(apart(rows), apart(actual[None, :])[0])
