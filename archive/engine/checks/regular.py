"""Scans that follow each other as the plan says: each gap a whole number of its intervals."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from archive.engine.checks.moments import Moments, Name, folded, in_order
from archive.engine.codes import found
from archive.engine.findings import Finding

SLACK = 0.1
"""By how much of an interval a scan may be early or late: common practice, no source."""

SHOWN = 50


def uneven(
    table: str,
    column: str,
    every_s: int,
    moments: Moments,
    subjects: Sequence[NDArray[np.int64]],
    name: Name,
) -> Iterator[Finding]:
    """Find sessions whose scans do not stand at the planned distance.

    Parameters
    ----------
    table, column : str
        The column of sessions.
    every_s : int
        Seconds from scan to scan, as the plan says.
    moments : Moments
    subjects : sequence of ndarray of int64, shape (n,)
        Animal, group and observer, each of whom has scans of its own.
    name : callable
        Gives a session's code its text.

    Notes
    -----
    A gap of several intervals is even, for a scan may have been missed; those missed by everybody
    are counted between the first and the last scan of the session. At most 50 sessions are listed.
    """
    sessions, starts = moments.codes[column], moments.starts
    at = np.flatnonzero((sessions != 0) & np.isfinite(starts))
    if not at.size:
        return
    values, firsts, which = np.unique(sessions[at], return_index=True, return_inverse=True)
    gaps, later = _gaps(folded(len(at), [sessions[at], *(one[at] for one in subjects)]), starts[at])
    is_off = np.abs(gaps / every_s - np.rint(gaps / every_s)) > SLACK
    of_all, after = _gaps(sessions[at].view(np.uint64), starts[at])
    lost = np.maximum(np.rint(of_all / every_s) - 1, 0).astype(np.int64)
    number = len(values)
    counts = np.bincount(which[later], minlength=number)
    off = np.bincount(which[later[is_off]], minlength=number)
    missed = np.bincount(which[after], lost, minlength=number).astype(np.int64)
    faulty = np.flatnonzero((off > 0) | (missed > 0))
    faulty = faulty[np.argsort(firsts[faulty])]
    for count, one in enumerate(faulty[:SHOWN], start=1):
        text = name(column, int(values[one]))
        said = [f"Session “{text}”: the plan says {every_s:,} s from scan to scan."]
        row = None
        if off[one]:
            mine = np.flatnonzero(is_off & (which[later] == one))
            first = mine[np.argmin(moments.rows[at[later[mine]]])]
            row = int(moments.rows[at[later[first]]])
            said.append(
                f"{off[one]:,} of {counts[one]:,} gaps are no multiple of it; the first, before row"
                f" {row:,}, is {gaps[first]:g} s."
            )
        if missed[one]:
            is_one = missed[one] == 1
            said.append(f"{missed[one]:,} {'scan is' if is_one else 'scans are'} missing.")
        if count == SHOWN and len(faulty) > SHOWN:
            said.append(f"{len(faulty) - SHOWN:,} more sessions like it are not listed.")
        yield found(
            "uneven-interval", " ".join(said), table=table, row=row, field=column, value=text
        )


def _gaps(
    groups: NDArray[np.uint64], starts: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Give the gaps between the moments of each group, and the row after each."""
    order = in_order(groups, starts)
    gap = starts[order][1:] - starts[order][:-1]
    is_gap = (groups[order][1:] == groups[order][:-1]) & (gap > 0)
    return gap[is_gap], order[1:][is_gap]
