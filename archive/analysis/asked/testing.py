"""Each test by its name, of units in their arms."""

from collections.abc import Callable
from math import isfinite

import numpy as np

from archive.analysis.asked.found import Comparison, many
from archive.analysis.asked.sides import Sides
from archive.analysis.comparing.adjusting import every_pair
from archive.analysis.comparing.arms import among_arms
from archive.analysis.comparing.drawing import Arms, Ordered
from archive.analysis.comparing.effects import hedges_g
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
    among_arms_as_randomised,
    as_randomised,
)
from archive.analysis.comparing.shares import logit_t, quasi_binomial
from archive.analysis.comparing.units import Compared, paired_t, unit_f, unit_t
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design.allocation.base import Allocation
from registry.errors import Unsound

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
        f"{treated} minus {control}",
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
        f"{treated} minus {control}",
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
            f"{one.first} minus {one.second}",
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
        f"{treated} minus {control}",
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


def _orders(sides: Sides) -> Ran:
    """Deal the drawn orders anew among the units that went through both arms."""
    _within(sides)
    names = _two(sides)
    orders = sides.sequences
    if not orders:
        raise Unsound(
            "The test by the draw was not made.",
            "The register holds no draw of the orders in which these units had both arms.",
            "Reveal the orders, or take the paired test.",
        )
    lost = [name for name in dict.fromkeys(sides.names) if name not in orders]
    gaps = [Gap(f"Left out: {few_named(lost)}.", "Their order was not drawn.")] if lost else []
    each = zip(sides.names, sides.arms, sides.values, strict=True)
    value = {(name, arm): float(one) for name, arm, one in each}
    found = randomisation(
        Ordered([*orders.values()], *names),
        [value[unit, arm] for unit, order in orders.items() for arm in order],
        seed=sides.seed,
    )
    test = Comparison(
        "orders_as_randomised",
        "randomisation test by the recorded draw of orders",
        "chosen",
        " minus ".join(names),
        found.effect,
        _number(found.low),
        _number(found.high),
        sides.said,
        (("arrangements", float(found.arrangements)), ("error of p", found.error)),
        found.p,
        found.smallest_p,
    )
    return [test], (*gaps, *found.gaps)


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
    compared = f"{treated} minus {control}"
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
    "orders_as_randomised": _orders,
    "tank_log_rank": _tank_log_rank,
    "hedges_g": _hedges,
    "every_pair": _every_pair,
}
"""Tests by the names under which they are asked for, and which plans name."""
