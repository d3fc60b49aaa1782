"""Cohorts together: what each found, and what they say as one."""

from collections.abc import Mapping

import numpy as np

from archive.analysis.asked.comparison import compared
from archive.analysis.asked.found import Cell, Comparison, Found, Table, many
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.cohorts.found import Cohort, by_stratum, difference
from archive.analysis.cohorts.pooling import Method, Pooled, pool
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.errors import Unsound


def cohorts(frames: Mapping[str, Frame], request: Request) -> Found:
    """Pool the difference between two arms over cohorts.

    Parameters
    ----------
    frames : mapping of str to Frame
        Cohort to its table.
    request : Request
        Slots outcome, unit, treatment; options reference, and arm where there are more than two.

    Notes
    -----
    Where every unit of a cohort went through both arms, it gives its mean paired difference. The
    variance between cohorts is estimated by restricted maximum likelihood; what the other two
    estimators would have said stands beside.
    """
    gaps: list[Gap] = []
    told: list[Cohort] = []
    strata: list[tuple[str, str, float]] = []
    outcome = request.column("outcome")
    arms: tuple[str, str] | None = None
    for name, frame in frames.items():
        try:
            values = frame.numbers(outcome)
            units = _units(compared(frame, request, values, None, outcome, []))
            arms = arms or _two(units, request)
            told.append(_cohort(name, units, arms, outcome))
            is_paired = len({unit for unit, _, _ in units}) < len(units)
            strata += [
                (f"{name}, {unit}" if is_paired else name, arm, value)
                for unit, arm, value in units
                if arm in arms
            ]
        except Unsound as refused:
            gaps.append(Gap(f"{name}: {refused.what}", refused.why))
    if arms is None or not told:
        bounds.refuse("versions", "No cohort can be compared.", gaps[0].said, "Look at each alone.")
    said_arms = f"{arms[0]} minus {arms[1]}"
    try:
        found = pool(told)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        alone = tuple((one.name, one.units, one.effect, None, None, None) for one in told)
        return Found((), (_table(alone, said_arms, outcome),), gaps=tuple(gaps))
    rows = tuple((r.name, r.units, r.effect, r.low, r.high, r.weight) for r in found.rows)
    tests = [_pooled(found, said_arms, "pool", "chosen")]
    tests += [
        _pooled(pool(told, method=how), said_arms, f"pool_{how.name.lower()}", "beside")
        for how in Method
        if how != found.method
    ]
    tests += _strata(strata, arms, said_arms, outcome, request.seed, gaps)
    effect = found.effect
    said = (
        (
            f"{said_arms}, over {len(told)} cohorts: {effect.value:.4g} ({_cell(effect.low)} to "
            f"{_cell(effect.high)}), {outcome}; p = {found.p:.3g}."
        ),
        f"Share of the variation that is not chance: {100 * found.inconsistency:.0f} per cent.",
    )
    return Found(said, (_table(rows, said_arms, outcome),), tuple(tests), gaps=(*gaps, *found.gaps))


def _cell(value: float | None) -> str:
    return "?" if value is None else f"{value:.4g}"


type Unit = tuple[str, str, float]


def _units(found: Found) -> list[Unit]:
    """Give name, arm and value of each unit, in each arm that it went through."""
    table = next(one for one in found.tables if one.name == "units")
    return [(str(row[0]), str(row[1]), float(row[2] or 0.0)) for row in table.rows]


def _cohort(name: str, units: list[Unit], arms: tuple[str, str], outcome: str) -> Cohort:
    """Give what a cohort found: a difference of separate units, or a mean paired difference."""
    first, second = ({unit: v for unit, a, v in units if a == arm} for arm in arms)
    both = sorted(first.keys() & second.keys())
    if not both:
        return difference(name, np.array([*first.values()]), np.array([*second.values()]), outcome)
    apart = np.array([first[unit] - second[unit] for unit in both])
    if len(apart) < 2:
        bounds.refuse("unit", "This is no replication.", "One unit alone.", "Show it beside.")
    variance = float(apart.var(ddof=1)) / len(apart)
    return Cohort(name, float(apart.mean()), variance, outcome, len(both))


def _two(units: list[Unit], request: Request) -> tuple[str, str]:
    """Give treatment and reference: the first arm by its name unless one is asked for."""
    known = sorted({arm for _, arm, _ in units})
    asked, named = (str(request.options.get(one) or "") for one in ("reference", "arm"))
    reference = asked if asked in known else known[0]
    others = [one for one in known if one != reference]
    if named in others:
        return named, reference
    if len(others) != 1:
        bounds.refuse(
            "treatment",
            "Cohorts are pooled by the difference of two arms.",
            f"There are {len(known)}: {', '.join(known)}.",
            "Name the arm that is compared with the other.",
        )
    return others[0], reference


def _table(rows: tuple[tuple[Cell, ...], ...], said: str, outcome: str) -> Table:
    heads = ("cohort", "units", "effect", "from", "to", "weight")
    return Table("cohorts", f"{said}, {outcome}, by cohort", heads, rows)


def _pooled(found: Pooled, said: str, name: str, place: str) -> Comparison:
    figures = [
        ("tau²", found.between),
        ("Q", found.q),
        ("p of Q", found.q_p),
        ("I²", found.inconsistency),
    ]
    if found.next_low is not None and found.next_high is not None:
        figures += [("next cohort from", found.next_low), ("next cohort to", found.next_high)]
    return Comparison(
        name,
        f"random effects by {found.method.value}, interval of Hartung and Knapp",
        place,
        said,
        found.effect.value,
        found.effect.low,
        found.effect.high,
        found.scale,
        tuple(figures),
        found.p,
    )


def _strata(
    strata: list[tuple[str, str, float]],
    arms: tuple[str, str],
    said: str,
    outcome: str,
    seed: int,
    gaps: list[Gap],
) -> list[Comparison]:
    values: Numbers = np.array([value for _, _, value in strata])
    treated = np.array([arm == arms[0] for _, arm, _ in strata])
    try:
        found = by_stratum(values, treated, [name for name, _, _ in strata], seed=seed)
    except Unsound as refused:
        gaps.append(Gap(refused.what, refused.why))
        return []
    gaps += found.gaps
    ends = [None if v is None or not np.isfinite(v) else float(v) for v in (found.low, found.high)]
    return [
        Comparison(
            "by_stratum",
            "randomisation of units within cohorts",
            "beside",
            said,
            found.effect,
            ends[0],
            ends[1],
            outcome,
            (
                ("arrangements", many(found.arrangements)),
                ("error of p", found.error),
            ),
            found.p,
            found.smallest_p,
        )
    ]
