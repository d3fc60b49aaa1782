"""Which test to take, why, what it assumes, and the smallest p that the draw can give."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import factorial, prod

from archive.analysis.comparing.recorded import BLOCKED, FREE
from registry.design import bounds
from registry.design.phases import Reach


class Outcome(StrEnum):
    """What was measured of each unit."""

    NUMBER = "number"
    SHARE = "share counted in each unit"
    SCORE = "score or rank"
    TIME = "time to an event"


class Standing(StrEnum):
    """Whether a test was named before the data were seen."""

    PLANNED = "planned"
    EXPLORATORY = "exploratory"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A test that fits.

    Parameters
    ----------
    test : str
        Name of the function in `archive.analysis`.
    beside : tuple of str
        Functions whose result should stand beside it.
    why, assumes : tuple of str
        A sentence each.
    reach : Reach or None
        What the draw itself can show; None where it cannot be gone through.
    """

    test: str
    beside: tuple[str, ...]
    why: tuple[str, ...]
    assumes: tuple[str, ...]
    reach: Reach | None


def standing(planned: Collection[str], done: str) -> Standing:
    """Say whether a test was among those that the plan named.

    Examples
    --------
    >>> standing(["unit_t"], "rank_sum").value
    'exploratory'
    """
    return Standing.PLANNED if done in planned else Standing.EXPLORATORY


def propose(
    outcome: Outcome,
    units: Mapping[str, int],
    *,
    method: str = "",
    blocks: Sequence[Sequence[int]] = (),
    within: bool = False,
    orders: Sequence[int] = (),
    foretold: bool = False,
    alpha: float = 0.05,
) -> Proposal:
    """Propose a test for two arms or more.

    Parameters
    ----------
    outcome : Outcome
    units : mapping of str to int
        Arm to its experimental units: tanks where tanks were treated. Where every unit went
        through all arms, the number of units for each.
    method : str
        How units were allocated, as the register recorded it; "" where nothing was drawn.
    blocks : sequence of sequence of int, optional
        Units of each arm in each block.
    within : bool, default False
        Whether every unit went through all arms.
    orders : sequence of int, optional
        Units of each order of the arms, where orders were dealt among units.
    foretold : bool, default False
        Whether the order of the arms was foretold.
    alpha : float, default 0.05

    Raises
    ------
    Unsound
        Where there are fewer than two arms, or an arm has fewer than two units.

    Notes
    -----
    The defaults are those that keep their level where units are few (simulated in
    ``tests/outside/test_few_animals.py``). A person decides.

    Examples
    --------
    >>> found = propose(Outcome.NUMBER, {"still": 4, "brisk": 4}, method="complete randomisation")
    >>> found.test, found.beside, round(found.reach.smallest_p, 4)
    ('unit_t', ('as_randomised', 'hedges_g'), 0.0286)
    """
    bounds.alpha_of(alpha)
    few = [name for name, number in units.items() if number < 2]
    if len(units) < 2 or few:
        bounds.refuse(
            "units",
            "No test can be proposed.",
            f"“{few[0]}” has fewer than two units." if few else "There is one arm alone.",
            "Describe what was seen, and plan more units.",
        )
    test, beside, assumes = _fitting(outcome, len(units), within, foretold)
    found = _reach(list(units.values()), method, blocks, within, alpha)
    if orders and len(units) == 2:
        found = _of_orders(orders, alpha)
    why = [
        f"The outcome is a {outcome.value}, in {len(units)} arms"
        + (" that every unit went through." if within else " of separate units.")
    ]
    if found is None:
        why.append("What else could have been drawn is not known, so no draw can be gone through.")
    elif found.is_confirmatory and orders and within:
        beside = ("orders_as_randomised", *beside)
        why.append("The draw of orders can show a difference, so it is shown beside.")
    elif found.is_confirmatory and not within and outcome in {Outcome.NUMBER, Outcome.SHARE}:
        beside = ("as_randomised" if len(units) == 2 else "among_arms_as_randomised", *beside)
        why.append("The draw itself can show a difference, so it is shown beside.")
    elif not found.is_confirmatory:
        why.append(found.said)
    if not method:
        assumes = (*assumes, "Nothing was drawn: a difference may come from what else differed.")
    return Proposal(test, beside, tuple(why), assumes, found)


_INDEPENDENT = "Units do not influence each other."
_NORMAL = "Means of units vary about as a normal distribution does, alike in every arm."


def _fitting(
    outcome: Outcome, arms: int, within: bool, foretold: bool
) -> tuple[str, tuple[str, ...], tuple[str, ...]]:
    """Give the test, what stands beside it, and what it assumes."""
    if within and foretold and arms > 2:
        return "page", ("friedman",), (_INDEPENDENT, "The order was foretold before the data.")
    if within and arms > 2:
        return "friedman", (), (_INDEPENDENT, "Orders of the conditions were drawn.")
    if within and outcome == Outcome.SCORE:
        return "signed_ranks", (), (_INDEPENDENT, "Differences lie evenly about their middle.")
    if within:
        return "paired_t", ("signed_ranks",), (_INDEPENDENT, "Differences vary about normally.")
    if outcome == Outcome.TIME:
        return (
            "tank_log_rank",
            ("survival",),
            (
                _INDEPENDENT,
                "Whoever left early was no likelier to have had the event.",
            ),
        )
    if outcome == Outcome.SCORE:
        return "rank_sum" if arms == 2 else "kruskal_wallis", (), (_INDEPENDENT,)
    if outcome == Outcome.SHARE and arms == 2:
        return "logit_t", ("quasi_binomial",), (_INDEPENDENT, "Logits of units vary alike.")
    if arms == 2:
        return "unit_t", ("hedges_g",), (_INDEPENDENT, _NORMAL)
    return "unit_f", ("every_pair",), (_INDEPENDENT, _NORMAL)


def _of_orders(orders: Sequence[int], alpha: float) -> Reach:
    """Give what orders can show that were dealt among units; two of one size have mirror images."""
    ways = factorial(sum(orders)) // prod(factorial(one) for one in orders)
    return _of(ways, alpha, mirrored=len(orders) == 2 and orders[0] == orders[1])


def _reach(
    sizes: list[int], method: str, blocks: Sequence[Sequence[int]], within: bool, alpha: float
) -> Reach | None:
    """Give what the draw can show: how many arrangements there were, and the best of them."""
    if within:
        ways = factorial(len(sizes)) ** sizes[0]
        return _of(ways, alpha, mirrored=True) if method and len(sizes) == 2 else None
    if method not in FREE | BLOCKED or (method in BLOCKED and not blocks):
        return None
    parts = [list(one) for one in blocks] if method in BLOCKED else [sizes]
    ways = prod(factorial(sum(one)) // prod(factorial(n) for n in one) for one in parts)
    if len(sizes) > 2:
        # Arms of one size may change names without changing what is compared.
        alike = prod(factorial(sizes.count(one)) for one in set(sizes))
        return Reach(ways, _of(max(1, ways // alike), alpha).smallest_p, alpha)
    return _of(ways, alpha, mirrored=all(len(set(one)) == 1 for one in parts))


def _of(ways: int, alpha: float, *, mirrored: bool = False) -> Reach:
    """Give the reach of arrangements as a draw had them; more than a plan may have are no fault."""
    return Reach(ways, min(1.0, (1 + mirrored) / ways), alpha)
