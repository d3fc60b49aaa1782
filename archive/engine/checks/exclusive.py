"""Behaviours that exclude one another: no two of one set at one time, of one animal."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from archive.engine.checks.moments import DAY_S, Moments, Name, When, folded, in_order
from archive.engine.codes import found
from archive.engine.findings import Finding

SHOWN = 50


def clashes(
    table: str,
    column: str,
    entries: Sequence[Mapping[str, Any]],
    moments: Moments,
    subjects: Sequence[NDArray[np.int64]],
    name: Name,
    when: When,
) -> Iterator[Finding]:
    """Find rows whose behaviour goes on, or is noted, while another of its set does.

    Parameters
    ----------
    table, column : str
        The column of behaviours.
    entries : sequence of mapping
        Its ethogram: code, kind and exclusive set.
    moments : Moments
    subjects : sequence of ndarray of int64, shape (n,)
        Animal, group and observer: what two observers note of one animal is no clash.
    name : callable
        Gives a code its text.
    when : When
        With ends, states that overlap in time are found, and events are passed, for they take no
        time; without them, different behaviours noted at the same moment.

    Notes
    -----
    Two states may touch: one ends when the next begins. An end before its start is that of the next
    day where both stand as times of one date, else the row is passed. At most 50 are listed.
    """
    starts, ends = moments.starts, moments.ends
    if len(when.ends) > 1:
        ends = np.where(ends < starts, ends + DAY_S, ends)
    sets = _sets(column, entries, moments.codes[column], name, states_only=bool(when.ends))
    is_asked = (sets > 0) & np.isfinite(starts) & (ends >= starts)
    if subjects:
        is_asked &= np.any([one != 0 for one in subjects], axis=0)
    at = np.flatnonzero(is_asked)
    groups = folded(len(at), [sets[at], *(one[at] for one in subjects)])
    if when.ends:
        later, earlier = _overlapping(groups, starts[at], ends[at])
    else:
        later, earlier = _at_once(groups, starts[at], moments.codes[column][at])
    shown = np.argsort(later, kind="stable")[:SHOWN]
    for count, (row, other) in enumerate(zip(at[later[shown]], at[earlier[shown]], strict=True), 1):
        code, before = (name(column, int(moments.codes[column][one])) for one in (row, other))
        number, number_before = int(moments.rows[row]), int(moments.rows[other])
        how = (
            "the second begins before the first ends"
            if when.ends
            else "both are noted at the same moment"
        )
        message = (
            f"“{before}” in row {number_before:,}, column “{column}”, and “{code}” in row"
            f" {number:,} exclude one another, and {how}."
        )
        if count == SHOWN and len(later) > SHOWN:
            message = f"{message} {len(later) - SHOWN:,} more like it are not listed."
        yield found("exclusive-states", message, table=table, row=number, field=column, value=code)


def _sets(
    column: str,
    entries: Sequence[Mapping[str, Any]],
    codes: NDArray[np.int64],
    name: Name,
    *,
    states_only: bool,
) -> NDArray[np.int64]:
    """Number each row's exclusive set; 0 where its behaviour is in none."""
    numbers: dict[str, int] = {}
    known = {
        str(entry["code"]): numbers.setdefault(str(entry["exclusive"]), len(numbers) + 1)
        for entry in entries
        if not (states_only and entry["kind"] == "event")
    }
    values, which = np.unique(codes, return_inverse=True)
    told = [known.get(name(column, int(one)), 0) if one else 0 for one in values]
    return np.array(told, np.int64)[which]


type Pairs = tuple[NDArray[np.int64], NDArray[np.int64]]


def _at_once(
    groups: NDArray[np.uint64], starts: NDArray[np.float64], codes: NDArray[np.int64]
) -> Pairs:
    """Pair rows of one group and moment that have different codes."""
    # Alone, values sort much faster than with their places, and mostly none is there twice.
    both = folded(len(groups), [groups.view(np.int64), starts.view(np.int64)])
    ordered = np.sort(both)
    twice = np.unique(ordered[1:][ordered[1:] == ordered[:-1]])
    at = np.flatnonzero(np.isin(both, twice)) if twice.size else np.empty(0, np.int64)
    at = at[np.argsort(both[at], kind="stable")]
    is_clash = (both[at][1:] == both[at][:-1]) & (codes[at][1:] != codes[at][:-1])
    return at[1:][is_clash], at[:-1][is_clash]


def _overlapping(
    groups: NDArray[np.uint64], starts: NDArray[np.float64], ends: NDArray[np.float64]
) -> Pairs:
    """Pair each row that begins before an earlier one of its group ends with that one."""
    order = in_order(groups, starts)
    groups, starts, ends = groups[order], starts[order], ends[order]
    count = len(order)
    is_first = np.r_[True, groups[1:] != groups[:-1]][:count]
    # The greatest end so far, group by group: ranks of ends, each group above the one before.
    ranked = np.argsort(ends, kind="stable")
    rank = np.empty(count, np.int64)
    rank[ranked] = np.arange(count)
    so_far = np.maximum.accumulate(np.cumsum(is_first) * count + rank)
    greatest = ranked[so_far % max(1, count)][:-1]
    is_clash = ~is_first[1:] & (starts[1:] < ends[greatest])
    return order[1:][is_clash], order[greatest[is_clash]]
