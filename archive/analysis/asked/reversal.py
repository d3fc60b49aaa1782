"""A treatment given, taken away and given again to the same animals: tested by how it was drawn."""

from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from typing import Any

import numpy as np

from archive.analysis.asked.comparison import Told
from archive.analysis.asked.found import Cell, Choice, Comparison, Found, Table
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.series import Watch, watches_in, with_both
from archive.analysis.comparing.drawing import Drawn, Ordered, Phased
from archive.analysis.comparing.randomised import randomisation
from archive.analysis.comparing.units import paired_t
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.allocation.phased import METHOD
from registry.design.phases import Phases
from registry.errors import Unsound


def reversal(frame: Frame, request: Request, drawn: Told = None) -> Found:
    """Compare phases within animals, by what else could have been drawn.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots outcome, animal, phase, order (of the sessions); options reference, the phase that
        the other is compared with, and shortest, the least sessions of a phase among which the
        changes were drawn.
    drawn : dict, optional
        The allocation as the register told it, once revealed: orders or changes of phase.

    References
    ----------
    Edgington, E. S. and Onghena, P. (2007). Randomization Tests, 4th ed., ch. 11.
    """
    gaps: list[Gap] = []
    watches = watches_in(frame, request, gaps)
    known = sorted({name for one in watches for name in one.phases})
    if len(known) != 2:
        bounds.refuse(
            "phase",
            "Phases cannot be compared.",
            f"There are {len(known)}: {few_named(known, most=9)}; two are compared.",
            "Name the column that says when the treatment was given.",
        )
    asked = str(request.options.get("reference") or "")
    control = asked if asked in known else known[0]
    treated = next(one for one in known if one != control)
    watches = with_both(watches, gaps)
    said = request.column("outcome")
    tests = _by_draw(watches, request, drawn, (treated, control), gaps)
    tests += _by_t(watches, treated, control, said, place="beside" if tests else "chosen",
                   gaps=gaps)  # fmt: skip
    return Found(
        tuple(one.said for one in tests if one.place == "chosen"),
        _tables(watches, treated, control, said),
        tuple(tests),
        _choice(tests, len(watches)),
        tuple(gaps),
    )


def _choice(tests: Sequence[Comparison], animals: int) -> Choice | None:
    """Say why the first test stands first; None where nothing could be tested."""
    if not tests:
        return None
    first = tests[0]
    by_draw = first.name != "paired_t"
    why = f"The treatment came and went within {animals} animal{'' if animals == 1 else 's'}."
    return Choice(
        first.name,
        first.name,
        (why, "The draw alone makes the test valid." if by_draw else "No draw could be used."),
        (
            "The effect comes and goes with the treatment, so that it is gone when that is.",
            "The changes were drawn, and not made because of what was seen."
            if by_draw
            else "Differences vary about normally.",
        ),
        first.smallest_p,
    )


def _by_draw(
    watches: Sequence[Watch],
    request: Request,
    drawn: Told,
    names: tuple[str, str],
    gaps: list[Gap],
) -> list[Comparison]:
    """Test by the draw of the register, or by the rule that was said; else say that none is."""
    try:
        design, values, said = _design(watches, request, drawn, names, gaps)
        found = randomisation(design, values, seed=request.seed)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return []
    gaps += found.gaps
    low, high = (None if one is None or not np.isfinite(one) else float(one)
                 for one in (found.low, found.high))  # fmt: skip
    return [
        Comparison(
            "phases_as_randomised", said, "chosen", " minus ".join(names), found.effect, low, high,
            request.column("outcome"),
            (("arrangements", float(found.arrangements)), ("error of p", found.error)),
            found.p, found.smallest_p,
        )
    ]  # fmt: skip


def _design(
    watches: Sequence[Watch],
    request: Request,
    drawn: Told,
    names: tuple[str, str],
    gaps: list[Gap],
) -> tuple[Drawn, Numbers, str]:
    orders = {place[0]: tuple(place[3]) for place in (drawn or {}).get("places", []) if place[3]}
    own = [one for one in watches if one.animal in orders]
    if own and drawn and drawn["method"] == METHOD:
        return _as_phased(watches, own, orders, drawn["given"], names, gaps)
    if own:
        return _as_ordered(watches, own, orders, names, gaps)
    shortest = request.options.get("shortest")
    if not shortest:
        raise Unsound(
            "The test by the draw was not made.",
            "The register holds no draw of these orders, and nobody said among which places the "
            "changes of phase were drawn.",
            "Say how few sessions a phase could have.",
        )
    gaps.append(
        Gap(
            "It is taken that the changes of phase were drawn.",
            f"Among all places that leave {shortest} sessions or more in each phase, for each "
            "animal by itself: the register holds no such draw. Changes that somebody chose "
            "are no ground for this test.",
        )
    )
    said = "randomisation test of the places of the changes of phase"
    values = np.concatenate([one.values for one in watches])
    return _phased([one.phases for one in watches], names[0], int(shortest)), values, said


def _phased(phases: Sequence[Sequence[str]], treated: str, shortest: int) -> Phased:
    letters = ["".join("B" if one == treated else "A" for one in own) for own in phases]
    plans = [
        Phases(
            sessions=len(word),
            phases="".join(letter for letter, _ in groupby(word)),
            shortest=shortest,
        )
        for word in letters
    ]
    return Phased(plans, letters)


def _as_phased(
    watches: Sequence[Watch],
    own: Sequence[Watch],
    orders: Mapping[str, tuple[str, ...]],
    given: Mapping[str, Any],
    names: tuple[str, str],
    gaps: list[Gap],
) -> tuple[Drawn, Numbers, str]:
    """Take each session under the treatment that was drawn for it."""
    kept = _kept(watches, own, orders, gaps, lambda one: one.phases)
    design = _phased([orders[one.animal] for one in kept], names[0], int(given.get("shortest", 3)))
    values = np.concatenate([one.values for one in kept])
    return design, values, "randomisation test by the recorded draw of the changes of phase"


def _as_ordered(
    watches: Sequence[Watch],
    own: Sequence[Watch],
    orders: Mapping[str, tuple[str, ...]],
    names: tuple[str, str],
    gaps: list[Gap],
) -> tuple[Drawn, Numbers, str]:
    """Take each period under the treatment that was allocated to it."""
    kept = _kept(watches, own, orders, gaps, lambda one: one.runs)
    design = Ordered([orders[one.animal] for one in kept], *names)
    values = np.concatenate([one.by_run() for one in kept])
    return design, values, "randomisation test by the recorded draw of orders"


def _kept(
    watches: Sequence[Watch],
    own: Sequence[Watch],
    orders: Mapping[str, tuple[str, ...]],
    gaps: list[Gap],
    went: Callable[[Watch], tuple[str, ...]],
) -> list[Watch]:
    """Give the animals that went through all that was drawn for them, and tell of the others."""
    lost = [one.animal for one in watches if one not in own]
    odd = [one.animal for one in own if len(went(one)) != len(orders[one.animal])]
    if lost or odd:
        gaps.append(
            Gap(
                f"{few_named([*lost, *odd])} are left out of the test by the draw.",
                "The register did not draw their order, or they did not go through all of it.",
            )
        )
    kept = [one for one in own if one.animal not in odd]
    moved = [one.animal for one in kept if went(one) != orders[one.animal]]
    if moved:
        gaps.append(
            Gap(
                f"{few_named(moved)} count in the order that was drawn.",
                "The table has another; animals are analysed as randomised.",
            )
        )
    if not kept:
        raise Unsound(
            "The test by the draw was not made.",
            "No animal went through the order that was drawn for it.",
            "Look at the orders of the table.",
        )
    return kept


def _by_t(
    watches: Sequence[Watch],
    treated: str,
    control: str,
    said: str,
    *,
    place: str,
    gaps: list[Gap],
) -> list[Comparison]:
    """Compare the means of both phases over animals, where there are two or more."""
    try:
        found = paired_t([one.mean(treated) for one in watches],
                         [one.mean(control) for one in watches])  # fmt: skip
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return []
    gaps += found.gaps
    figures: tuple[tuple[str, float], ...] = (("df", found.df),)
    if np.isfinite(found.t):
        figures = (("t", found.t), *figures)
    return [
        Comparison(
            "paired_t", "paired t test over animals", place, f"{treated} minus {control}",
            found.effect, found.low, found.high, said, figures,
            found.p if np.isfinite(found.p) else None,
        )
    ]  # fmt: skip


def _tables(watches: Sequence[Watch], treated: str, control: str, said: str) -> tuple[Table, ...]:
    animals: list[tuple[Cell, ...]] = []
    course: list[tuple[Cell, ...]] = []
    for one in watches:
        high, low = one.mean(treated), one.mean(control)
        animals.append((one.animal, " ".join(one.runs), len(one.values), high, low, high - low))
        course += [
            (one.animal, number, float(value), phase)
            for number, (value, phase) in enumerate(
                zip(one.values, one.phases, strict=True), 1
            )
        ]  # fmt: skip
    heads = ("animal", "phases", "sessions", treated, control, "difference")
    return (
        Table("animals", f"{said} of each animal by phase", heads, tuple(animals)),
        Table("phases", f"{said} by session", ("animal", "session", said, "phase"), tuple(course)),
    )
