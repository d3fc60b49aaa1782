"""Blinding: a code for each tank that says nothing, a table of balance, and the printed paper."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev

from registry.design import bounds
from registry.design.allocation.base import Allocation, named
from registry.design.draws import Stream

_LETTERS = "BCDFGHJKMNPQRTVWXZ"
"""No vowels, so that no word comes out; no L or S, which are read as 1 and 5."""


def codes(units: Sequence[str], stream: Stream) -> dict[str, str]:
    """Give each unit a code of three letters: one for a unit, never one for a treatment.

    Parameters
    ----------
    units : sequence of str
        Up to a thousand.
    stream : Stream
        From a seed of its own: `seed_for(seed, "blinding")`.

    Notes
    -----
    Codes have no order: neither place nor treatment can be read from them. A code for each
    treatment would unblind all of its units as soon as one is known.

    Examples
    --------
    >>> found = codes(["T1", "T2", "T3"], Stream(bytes(range(32))))
    >>> sorted(found), len(set(found.values()))
    (['T1', 'T2', 'T3'], 3)
    """
    names = named("units", units, 1, "units")
    if len(names) > 1000:
        bounds.refuse(
            "units", "Up to 1,000 codes are given.", f"{len(names)} were asked.", "Code in parts."
        )
    given: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        while (code := "".join(_LETTERS[stream.below(18)] for _ in range(3))) in taken:
            continue
        taken.add(code)
        given[name] = code
    return given


@dataclass(frozen=True, slots=True)
class Balanced:
    """One row of a table of balance.

    Parameters
    ----------
    covariate : str
    means : mapping of str to float
        Treatment to mean.
    sds : mapping of str to float or None
        Treatment to standard deviation; None of one unit.
    apart : float or None
        Largest difference of two means over the pooled standard deviation; None where nothing
        varies within the treatments. Below 0.1 is often called balanced, with dozens of units in
        each arm (common practice, no source); with few no allocation reaches it.
    """

    covariate: str
    means: Mapping[str, float]
    sds: Mapping[str, float | None]
    apart: float | None


def balance_table(
    allocation: Allocation, covariates: Mapping[str, Mapping[str, float]]
) -> tuple[Balanced, ...]:
    """Set the treatments side by side in what was known beforehand.

    Parameters
    ----------
    allocation : Allocation
    covariates : mapping of str to mapping of str to float
        Covariate to the value of each unit.

    Raises
    ------
    Unsound
        Where a unit has no value.

    Notes
    -----
    No test: what a draw made is by chance, whatever it looks like.

    Examples
    --------
    >>> from registry.design.allocation.deals import complete
    >>> found = complete(["a", "b", "c", "d"], ["x", "y"], Stream(bytes(32)))
    >>> masses = {"mass": {"a": 1.0, "b": 2.0, "c": 3.0, "d": 4.0}}
    >>> round(sum(balance_table(found, masses)[0].means.values()), 1)
    5.0
    """
    rows = []
    for name, values in covariates.items():
        missing = [one.unit for one in allocation.places if one.unit not in values]
        if missing:
            bounds.refuse(
                "covariates",
                f"“{name}” is not known of every unit.",
                f"{', '.join(missing)} has no value.",
                "Give it, or leave the covariate out.",
            )
        rows.append(_row(name, _by_arm(allocation, values)))
    return tuple(rows)


def _by_arm(allocation: Allocation, values: Mapping[str, float]) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for one in allocation.places:
        value = bounds.number("covariates", values[one.unit], f"value of {one.unit}")
        found.setdefault(one.arm, []).append(value)
    return dict(sorted(found.items()))


def _row(name: str, by_arm: Mapping[str, Sequence[float]]) -> Balanced:
    means = {arm: fmean(values) for arm, values in by_arm.items()}
    sds = {arm: stdev(values) if len(values) > 1 else None for arm, values in by_arm.items()}
    squares = sum((value - means[arm]) ** 2 for arm, values in by_arm.items() for value in values)
    df = sum(len(values) - 1 for values in by_arm.values())
    spread = sqrt(squares / df) if df else 0.0
    apart = (max(means.values()) - min(means.values())) / spread if spread else None
    return Balanced(name, means, sds, apart)


def printed(
    allocation: Allocation,
    *,
    title: str,
    keyholders: Sequence[str],
    blind: Mapping[str, str] | None = None,
    with_key: bool = False,
) -> str:
    """Give an allocation as a page of plain text that prints.

    Parameters
    ----------
    allocation : Allocation
    title : str
    keyholders : sequence of str
        Who may see which unit has which treatment.
    blind : mapping of str to str, optional
        Unit to code.
    with_key : bool, default False
        Whether the treatments stand on the page; for keyholders alone.

    Examples
    --------
    >>> from registry.design.allocation.deals import complete
    >>> found = complete(["a", "b"], ["still", "brisk"], Stream(bytes(32)))
    >>> page = printed(found, title="Trial", keyholders=["the curator"], blind={"a": "K", "b": "R"})
    >>> "brisk" in page.split("code")[1], "the curator" in page
    (False, True)
    """
    head = [
        title,
        f"Drawn by {allocation.method}; SHA-256 of the seed {allocation.commitment}",
        f"Digest of the allocation {allocation.digest}",
        f"The key is seen by: {', '.join(keyholders) or 'nobody'}",
        *allocation.notes,
        "",
    ]
    columns = ["unit", *(["code"] if blind else []), *(["block", "treatment"] if with_key else [])]
    rows = [columns]
    for one in allocation.places:
        given = " ".join(one.sequence) or one.arm
        rows.append(
            [
                one.unit,
                *([blind[one.unit]] if blind else []),
                *([one.block, given] if with_key else []),
            ]
        )
    widths = [max(len(row[place]) for row in rows) for place in range(len(columns))]
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    return "\n".join([*head, *(line.rstrip() for line in lines)]) + "\n"
