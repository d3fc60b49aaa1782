"""Single animals and a few: designs in which time is randomised, and the p that they can reach."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from math import comb, factorial

from registry.design import bounds

SOURCE = "Edgington and Onghena (2007), Randomization Tests, 4th edition"
COUNTED = 200_000
"""Assignments that are listed one by one; more are drawn from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Phases:
    """One animal watched over many sessions that fall into phases, with the changes drawn.

    Parameters
    ----------
    sessions : int
        Sessions in all.
    phases : str, default "AB"
        Letters in order; "ABAB" for a treatment that is given, taken away and given again.
    shortest : int, default 3
        Least sessions of a phase, 1 or more.

    Raises
    ------
    Unsound
        Where the sessions do not hold the phases, or there is but one phase.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed., ch. 11.
    Onghena, P. (1992). Randomization tests for extensions and variations of ABAB single-case
    experimental designs. Behavioral Assessment 14, 153–171.

    Examples
    --------
    >>> Phases(sessions=20, shortest=5).assignments
    11
    >>> Phases(sessions=24, phases="ABAB", shortest=4).assignments
    165
    """

    sessions: int
    phases: str = "AB"
    shortest: int = 3

    def __post_init__(self) -> None:
        bounds.whole("shortest", self.shortest, 1, "least number of sessions of a phase")
        bounds.whole("phases", len(self.phases), 0, "number of phases", most=26)
        if len(set(self.phases)) < 2 or any(
            one == next_ for one, next_ in zip(self.phases, self.phases[1:], strict=False)
        ):
            bounds.refuse(
                "phases",
                "A design in phases changes from one to another.",
                f"“{self.phases}” does not, or stays in one twice.",
                "Write the phases in order, such as AB or ABAB.",
            )
        least = self.shortest * len(self.phases)
        if bounds.whole("sessions", self.sessions, 1, "number of sessions") < least:
            bounds.refuse(
                "sessions",
                "The sessions do not hold the phases.",
                f"{len(self.phases)} phases of {self.shortest} sessions need {least}, and "
                f"{self.sessions} were given.",
                "Plan more sessions, or shorter phases.",
            )

    @property
    def assignments(self) -> int:
        """How many places of the changes are admissible."""
        free = self.sessions - self.shortest * len(self.phases)
        return comb(free + len(self.phases) - 1, len(self.phases) - 1)

    def starts(self) -> Iterator[tuple[int, ...]]:
        """Give the admissible first sessions of the second and later phases, counted from 0."""
        later, free = len(self.phases) - 1, self.sessions - self.shortest * len(self.phases)
        for chosen in combinations(range(free + later), later):
            yield tuple(
                place - order + self.shortest * (order + 1) for order, place in enumerate(chosen)
            )

    def labels(self, starts: Sequence[int]) -> str:
        """Give the phase of every session, as a string of letters.

        Examples
        --------
        >>> Phases(sessions=6, shortest=2).labels((3,))
        'AAABBB'
        """
        ends = [*starts, self.sessions]
        return "".join(
            letter * (end - start)
            for letter, start, end in zip(self.phases, [0, *starts], ends, strict=True)
        )

    def every(self) -> list[str]:
        """Give the labels of every admissible assignment, if they can be listed.

        Raises
        ------
        Unsound
            Where there are more than `COUNTED`.
        """
        return listed((self.labels(one) for one in self.starts()), self.assignments)


def listed[T](every: Iterator[T], count: int) -> list[T]:
    """List every assignment, or refuse where they are too many to list."""
    if count > COUNTED:
        bounds.refuse(
            "sessions",
            "The assignments are too many to list.",
            f"There are {count:,}; up to {COUNTED:,} are listed.",
            "Draw from them instead, or make the phases longer.",
        )
    return list(islice(every, COUNTED))


def alternations(pairs: int) -> int:
    """Give the assignments of sessions in pairs, A or B first drawn in each pair.

    Examples
    --------
    >>> alternations(6)
    64
    """
    return int(2 ** bounds.whole("pairs", pairs, 1, "number of pairs of sessions", most=1000))


def staggered(animals: int, starts: int) -> int:
    """Give the assignments of a multiple baseline: which animal begins at which of fixed times.

    Parameters
    ----------
    animals : int
        Two or more.
    starts : int
        Different times at which one animal each begins, as many as animals or more.

    References
    ----------
    Wampold, B. E. and Worsham, N. L. (1986). Randomization tests for multiple-baseline designs.
    Behavioral Assessment 8, 135–143 (from memory).

    Examples
    --------
    >>> staggered(4, 4)
    24
    """
    bounds.whole("animals", animals, 2, "number of animals", most=1000)
    bounds.whole(
        "starts",
        starts,
        animals,
        "number of different starting times",
        "Each animal begins at a time of its own: give at least one for each.",
    )
    return factorial(starts) // factorial(starts - animals)


def windowed(windows: Sequence[int]) -> int:
    """Give the assignments of a multiple baseline: each animal begins within a window of its own.

    Parameters
    ----------
    windows : sequence of int
        Admissible starts for each animal, 1 or more.

    References
    ----------
    Marascuilo, L. A. and Busk, P. L. (1988). Combining statistics for multiple-baseline AB and
    replicated ABAB designs across subjects. Behavioral Assessment 10, 1–28 (from memory).

    Examples
    --------
    >>> windowed([5, 5, 5])
    125
    """
    ways = 1
    for one in windows:
        ways *= bounds.whole("windows", one, 1, "number of starts for an animal")
    return ways


def two_arms(first: int, second: int) -> int:
    """Give the arrangements of units over two arms.

    Examples
    --------
    >>> two_arms(6, 6)
    924
    """
    bounds.whole("first", first, 1, "number of units in the first arm")
    return comb(first + bounds.whole("second", second, 1, "number in the second arm"), first)


@dataclass(frozen=True, slots=True)
class Reach:
    """What a randomisation can show at the most.

    Parameters
    ----------
    assignments : int
    smallest_p : float
        The p of the most extreme outcome, 0 to 1.
    alpha : float
    """

    assignments: int
    smallest_p: float
    alpha: float

    @property
    def is_confirmatory(self) -> bool:
        """Whether the test can reject at all."""
        return self.smallest_p <= self.alpha

    @property
    def said(self) -> str:
        """What that means, in a sentence."""
        counted = f"{self.assignments:,} admissible assignments, smallest p {self.smallest_p:.4f}"
        if self.is_confirmatory:
            return f"{counted}."
        return (
            f"{counted}: above {self.alpha:g}, so no outcome can be significant. Describe what is "
            "seen, or add sessions, animals or changes of phase until the smallest p is below."
        )


def reach(assignments: int, *, alpha: float = 0.05, mirrored: bool = False) -> Reach:
    """Give the smallest p that a randomisation can reach.

    Parameters
    ----------
    assignments : int
        Admissible assignments, all equally likely, 1 or more.
    alpha : float, default 0.05
    mirrored : bool, default False
        True for a two-sided test whose best outcome has a mirror image that is as extreme: equal
        arms, signs of differences.

    Notes
    -----
    One over the count (Edgington and Onghena 2007), two over it where mirrored.

    Examples
    --------
    >>> reach(11).is_confirmatory, round(reach(11).smallest_p, 3)
    (False, 0.091)
    >>> reach(2**6, mirrored=True).smallest_p
    0.03125
    """
    bounds.alpha_of(alpha)
    count = bounds.whole("assignments", assignments, 1, "number of assignments")
    return Reach(count, min(1.0, (1 + mirrored) / count), alpha)


def confirmed(found: Reach) -> Reach:
    """Give the reach, or refuse a design as a confirmatory test when it can never reject.

    Raises
    ------
    Unsound
        Where the smallest p is above the level.
    """
    if not found.is_confirmatory:
        bounds.refuse(
            "sessions",
            "This design cannot be a confirmatory test.",
            f"The smallest p that it can reach is {found.smallest_p:.3f}, above {found.alpha:g}.",
            "Add sessions, animals or changes of phase, or plan it as a description.",
        )
    return found


def combined_p(p_values: Sequence[float]) -> float:
    """Give the p of several animals together, from the sum of theirs.

    Parameters
    ----------
    p_values : sequence of float
        One for each animal, from independent randomisations, each above 0 and at most 1.

    Notes
    -----
    (sum p)^k / k!, less its corrections where the sum is above 1.

    References
    ----------
    Edgington, E. S. (1972). An additive method for combining probability values from independent
    experiments. Journal of Psychology 80, 351–363.

    Examples
    --------
    >>> round(combined_p([0.1, 0.1, 0.1]), 4)
    0.0045
    """
    k = bounds.whole("p_values", len(p_values), 1, "number of animals")
    for one in p_values:
        bounds.above_zero("p_values", one, "p-value")
        bounds.between("p_values", one, 0, 1, "p-value", ends=True)
    total = sum(p_values)
    terms = ((-1) ** j * comb(k, j) * (total - j) ** k for j in range(int(total) + 1))
    return min(1.0, float(sum(terms)) / factorial(k))
