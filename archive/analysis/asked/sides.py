"""Arms compared: the proposed test or the one that was asked for, and what stands beside it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite
from typing import Any

import numpy as np

from archive.analysis.asked.found import Choice, Comparison, Table, many
from archive.analysis.comparing.adjusting import every_pair
from archive.analysis.comparing.arms import among_arms
from archive.analysis.comparing.drawing import Arms
from archive.analysis.comparing.effects import hedges_g
from archive.analysis.comparing.proposing import Outcome, propose
from archive.analysis.comparing.randomised import randomisation
from archive.analysis.comparing.ranks import (
    Ranked,
    friedman,
    kruskal_wallis,
    page,
    rank_sum,
    signed_ranks,
)
from archive.analysis.comparing.recorded import (
    BLOCKED,
    among_arms_as_randomised,
    as_randomised,
)
from archive.analysis.comparing.shares import logit_t, quasi_binomial
from archive.analysis.comparing.units import Compared, paired_t, unit_f, unit_t
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers, mean_of
from registry.design.allocation.base import Allocation, Place
from registry.errors import Unsound

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Units and what is to be compared.

    Parameters
    ----------
    outcome : Outcome
    said : str
        The outcome in words, with its unit.
    names, arms : tuple of str
        Of each unit; of units that went through all arms, one of each for every arm.
    values : ndarray of float, shape (units,)
    reference : str
        The arm that the others are compared with.
    counts : tuple of ndarray, optional
        Of shares: how many, and out of how many, in each unit.
    is_within : bool, default False
        Whether every unit went through all arms.
    allocation : Allocation, optional
        As the register recorded it and as it was revealed.
    seed : int, default 1
    drawn_from : mapping, optional
        What the allocation was drawn from, where the register told it.
    """

    outcome: Outcome
    said: str
    names: tuple[str, ...]
    arms: tuple[str, ...]
    values: Numbers
    reference: str
    counts: tuple[Numbers, Numbers] | None = None
    is_within: bool = False
    allocation: Allocation | None = None
    seed: int = 1
    drawn_from: Mapping[str, Any] | None = None

    @property
    def order(self) -> list[str]:
        """The arms, the reference first."""
        return [self.reference, *(one for one in sorted(set(self.arms)) if one != self.reference)]

    def place(self, arm: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Which units are in an arm."""
        return np.array([one == arm for one in self.arms], dtype=bool)

    def of(self, arm: str) -> Numbers:
        """The values of an arm; units in the order of their names where each went through all."""
        found = self.values[self.place(arm)]
        if not self.is_within:
            return found
        names = [name for name, one in zip(self.names, self.arms, strict=True) if one == arm]
        return np.asarray(found[np.argsort(np.array(names))])

    @property
    def units(self) -> dict[str, int]:
        """How many units each arm has."""
        return {arm: int(self.place(arm).sum()) for arm in self.order}


@dataclass(frozen=True, slots=True)
class Weighed:
    """Tests, why they were chosen, and what could not be tested."""

    tests: tuple[Comparison, ...]
    choice: Choice | None
    gaps: tuple[Gap, ...] = field(default=())


def allocation_from(told: Mapping[str, Any] | None) -> Allocation | None:
    """Make an allocation of what the register told: method, places and commitment."""
    if not told:
        return None
    places = tuple(
        Place(unit, arm, block, tuple(sequence)) for unit, arm, block, sequence in told["places"]
    )
    return Allocation(told["method"], places, told["commitment"], ())


def reference_of(arms: Sequence[str], asked: str, gaps: list[Gap]) -> str:
    """Give the arm that others are compared with: the one asked for, or the first by its name."""
    known = sorted(set(arms))
    if asked and asked not in known:
        gaps.append(
            Gap(f"“{asked}” is not compared with.", f"The arms are {few_named(known, most=9)}.")
        )
    return asked if asked in known else known[0]


def arms_table(sides: Sides) -> Table:
    """Give the mean of each arm over its units."""
    rows = []
    for arm in sides.order:
        found = mean_of(sides.of(arm), confidence=CONFIDENCE)
        rows.append((arm, found.n, found.mean, found.sd, found.low, found.high))
    return Table(
        "arms",
        f"{sides.said} by arm, over units",
        ("arm", "units", "mean", "standard deviation", "from", "to"),
        tuple(rows),
    )


def weighed(sides: Sides, *, asked: str = "") -> Weighed:
    """Propose a test, run it or the one asked for, and run what should stand beside it.

    Parameters
    ----------
    sides : Sides
    asked : str, default ""
        Name of a test in `TESTS`; "" takes the proposed one.
    """
    gaps: list[Gap] = []
    try:
        proposal = propose(
            sides.outcome,
            sides.units,
            method=sides.allocation.method if sides.allocation else "",
            blocks=_blocks(sides),
            within=sides.is_within,
        )
    except Unsound as refused:
        return Weighed((), None, (Gap(refused.what, refused.why),))
    chosen = asked if asked in TESTS else proposal.test
    tests = _run(chosen, "chosen", sides, gaps)
    beside = [one for one in (proposal.test, *proposal.beside) if one != chosen]
    for name in dict.fromkeys(beside):
        if name in TESTS:
            tests += _run(name, "beside", sides, gaps)
    smallest = proposal.reach.smallest_p if proposal.reach else None
    choice = Choice(chosen, proposal.test, proposal.why, proposal.assumes, smallest)
    return Weighed(tuple(tests), choice, tuple(gaps))


def _blocks(sides: Sides) -> list[list[int]]:
    """Count the units of each arm in each block of the allocation."""
    if sides.allocation is None or sides.allocation.method not in BLOCKED:
        return []
    counts: dict[str, dict[str, int]] = {}
    for one in sides.allocation.places:
        own = counts.setdefault(one.block, dict.fromkeys(sides.order, 0))
        own[one.arm] = own.get(one.arm, 0) + 1
    return [list(own.values()) for own in counts.values()]


def _run(name: str, place: str, sides: Sides, gaps: list[Gap]) -> list[Comparison]:
    try:
        found, told = TESTS[name](sides)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return []
    title = found[0].title if found else name
    gaps += [Gap(f"{title[:1].upper()}{title[1:]}: {one.what}", one.why) for one in told]
    return [replace(one, place=place) for one in found]


type Ran = tuple[list[Comparison], tuple[Gap, ...]]


def _two(sides: Sides) -> tuple[str, str]:
    """Give treatment and reference of two arms, or refuse more."""
    if len(sides.order) != 2:
        raise Unsound(
            "That test compares two arms.",
            f"There are {len(sides.order)}: {few_named(sides.order, most=9)}.",
            "Choose a test of several arms.",
        )
    return sides.order[1], sides.order[0]


def _several(sides: Sides) -> None:
    if sides.is_within:
        raise Unsound(
            "That test is of separate units.",
            "Every unit went through all arms.",
            "Choose a test within units.",
        )


def _within(sides: Sides) -> None:
    if not sides.is_within:
        raise Unsound(
            "That test is within units.",
            "Each unit was in one arm alone.",
            "Choose a test of separate units.",
        )


def _number(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(value)


def _compared(name: str, found: Compared, sides: Sides, title: str = "") -> Ran:
    treated, control = _two(sides)
    figures = [("df", found.df)]
    if isfinite(found.t):
        figures = [("t", found.t), *figures]
    scale = sides.said if found.scale == "outcome" else found.scale
    test = Comparison(
        name,
        title or found.name,
        "chosen",
        f"{treated} less {control}",
        found.effect,
        _number(found.low),
        _number(found.high),
        scale,
        tuple(figures),
        _number(found.p),
    )
    return [test], found.gaps


def _unit_t(sides: Sides) -> Ran:
    _several(sides)
    treated, control = _two(sides)
    return _compared("unit_t", unit_t(sides.of(treated), sides.of(control)), sides)


def _welch(sides: Sides) -> Ran:
    _several(sides)
    treated, control = _two(sides)
    found = unit_t(sides.of(treated), sides.of(control), equal_spread=False)
    return _compared("welch_t", found, sides)


def _paired(sides: Sides) -> Ran:
    _within(sides)
    treated, control = _two(sides)
    return _compared("paired_t", paired_t(sides.of(treated), sides.of(control)), sides)


def _shared(name: str, test: Callable[..., Compared]) -> Callable[[Sides], Ran]:
    def run(sides: Sides) -> Ran:
        _several(sides)
        treated, control = _two(sides)
        if sides.counts is None:
            raise Unsound(
                "That test is of shares counted in units.",
                "The outcome is no count out of a total.",
                "Name the column of totals too.",
            )
        seen, of = sides.counts
        one, other = sides.place(treated), sides.place(control)
        return _compared(name, test(seen[one], of[one], seen[other], of[other]), sides)

    return run


def _hedges(sides: Sides) -> Ran:
    _several(sides)
    treated, control = _two(sides)
    found = hedges_g(sides.of(treated), sides.of(control))
    test = Comparison(
        "hedges_g",
        "difference in standard deviations, Hedges’ g",
        "beside",
        f"{treated} less {control}",
        found.value,
        _number(found.low),
        _number(found.high),
        "standard deviations",
        (),
        None,
    )
    return [test], ()


def _ranked(name: str, found: Ranked, letter: str, compared: str) -> Ran:
    test = Comparison(
        name,
        f"{found.name}, exact" if not found.drawn else f"{found.name}, from draws",
        "chosen",
        compared,
        None,
        None,
        None,
        "ranks",
        ((letter, found.statistic), ("arrangements", many(found.arrangements))),
        found.p,
    )
    return [test], found.gaps


def _rank_sum(sides: Sides) -> Ran:
    _several(sides)
    treated, control = _two(sides)
    found = rank_sum(sides.of(treated), sides.of(control), seed=sides.seed)
    return _ranked("rank_sum", found, "W", f"{treated} with {control}")


def _signed(sides: Sides) -> Ran:
    _within(sides)
    treated, control = _two(sides)
    found = signed_ranks(sides.of(treated), sides.of(control), seed=sides.seed)
    return _ranked("signed_ranks", found, "V", f"{treated} with {control}")


def _kruskal(sides: Sides) -> Ran:
    _several(sides)
    found = kruskal_wallis(sides.values, sides.arms, seed=sides.seed)
    return _ranked("kruskal_wallis", found, "H", "all arms")


def _conditions(sides: Sides) -> Numbers:
    _within(sides)
    return np.column_stack([sides.of(arm) for arm in sides.order])


def _friedman(sides: Sides) -> Ran:
    return _ranked("friedman", friedman(_conditions(sides), seed=sides.seed), "χ²", "all arms")


def _page(sides: Sides) -> Ran:
    said = f"rising in the order {', '.join(sides.order)}"
    return _ranked("page", page(_conditions(sides), seed=sides.seed), "L", said)


def _unit_f(sides: Sides) -> Ran:
    _several(sides)
    found = unit_f(*(sides.of(arm) for arm in sides.order))
    test = Comparison(
        "unit_f",
        "analysis of variance of unit means",
        "chosen",
        "all arms",
        None,
        None,
        None,
        sides.said,
        (("F", found.f), ("df", float(found.df)), ("df of error", float(found.df_error))),
        found.p,
    )
    return [test], ()


def _every_pair(sides: Sides) -> Ran:
    _several(sides)
    found = every_pair([sides.of(arm) for arm in sides.order], sides.order)
    return [
        Comparison(
            "every_pair",
            "pairs of arms by Tukey’s studentised range",
            "beside",
            f"{one.first} less {one.second}",
            one.effect,
            one.low,
            one.high,
            sides.said,
            (),
            one.p,
        )
        for one in found
    ], ()


def _allocated(sides: Sides) -> Allocation:
    _several(sides)
    if sides.allocation is None:
        raise Unsound(
            "The test by the draw was not made.",
            "The register holds no draw of these units that was revealed.",
            "Reveal who got what, or say that units were not allocated by a draw.",
        )
    return sides.allocation


def _outcomes(sides: Sides) -> dict[str, float]:
    return {name: float(one) for name, one in zip(sides.names, sides.values, strict=True)}


def _as_randomised(sides: Sides) -> Ran:
    allocation = _allocated(sides)
    treated, control = _two(sides)
    found, gaps = as_randomised(
        allocation,
        _outcomes(sides),
        treatment=treated,
        given=sides.drawn_from,
        seed=sides.seed,
    )
    test = Comparison(
        "as_randomised",
        "randomisation test by the recorded draw",
        "chosen",
        f"{treated} less {control}",
        found.effect,
        _number(found.low),
        _number(found.high),
        sides.said,
        (("arrangements", many(found.arrangements)), ("error of p", found.error)),
        found.p,
        found.smallest_p,
    )
    return [test], (*gaps, *found.gaps)


def _among_as_randomised(sides: Sides) -> Ran:
    allocation = _allocated(sides)
    found, gaps = among_arms_as_randomised(
        allocation, _outcomes(sides), given=sides.drawn_from, seed=sides.seed
    )
    test = Comparison(
        "among_arms_as_randomised",
        "randomisation test of any difference by the recorded draw",
        "chosen",
        "all arms",
        None,
        None,
        None,
        sides.said,
        (("arrangements", many(found.arrangements)), ("error of p", found.error)),
        found.p,
        found.smallest_p,
    )
    return [test], gaps


def _tank_log_rank(sides: Sides) -> Ran:
    """Deal units anew, each with the mean log-rank score of its animals."""
    _several(sides)
    if len(sides.order) > 2:
        every = among_arms(sides.values, sides.arms, seed=sides.seed)
        figures = (("arrangements", many(every.arrangements)), ("error of p", every.error))
        return [_scores(sides, "all arms", None, figures, every.p, every.smallest_p)], ()
    treated, control = _two(sides)
    found = randomisation(Arms(sides.place(treated)), sides.values, seed=sides.seed)
    figures = (("arrangements", many(found.arrangements)), ("error of p", found.error))
    compared = f"{treated} less {control}"
    return [_scores(sides, compared, found.effect, figures, found.p, found.smallest_p)], found.gaps


def _scores(
    sides: Sides,
    compared: str,
    effect: float | None,
    figures: tuple[tuple[str, float], ...],
    p: float,
    smallest: float,
) -> Comparison:
    return Comparison(
        "tank_log_rank",
        "log-rank scores of units, dealt anew",
        "chosen",
        compared,
        effect,
        None,
        None,
        sides.said,
        figures,
        p,
        smallest,
    )


TESTS: dict[str, Callable[[Sides], Ran]] = {
    "unit_t": _unit_t,
    "welch_t": _welch,
    "paired_t": _paired,
    "rank_sum": _rank_sum,
    "signed_ranks": _signed,
    "unit_f": _unit_f,
    "kruskal_wallis": _kruskal,
    "friedman": _friedman,
    "page": _page,
    "logit_t": _shared("logit_t", logit_t),
    "quasi_binomial": _shared("quasi_binomial", quasi_binomial),
    "as_randomised": _as_randomised,
    "among_arms_as_randomised": _among_as_randomised,
    "tank_log_rank": _tank_log_rank,
    "hedges_g": _hedges,
    "every_pair": _every_pair,
}
"""Tests by the names under which they are asked for, and which plans name."""
