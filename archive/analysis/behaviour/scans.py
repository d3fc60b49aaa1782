"""Scans: the share of sample points, or of intervals, at which each behaviour was seen."""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from archive.analysis.behaviour.budgets import Amounts, Budget, Places, budget_of
from archive.analysis.behaviour.recorded import INTERVALS, SCANS, Recorded
from archive.analysis.columns import Coded, Codes, Flags, same_length
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.recording import Summary

OUT_OF_SIGHT = frozenset({"out of sight", "out_of_sight", "oos"})
"""Words for an animal that could not be seen, where a dictionary names none."""
NOBODY = "(no animal named)"


@dataclass(frozen=True, slots=True, eq=False)
class Scans:
    """One row for each animal at each scan.

    Parameters
    ----------
    animal, session, behaviour : Coded
        Of equal length. An empty session makes one session of all rows without one; a row without
        a behaviour is no scan.
    out_of_sight : collection of str
        Codes that say that the animal could not be seen.
    known : collection of str, optional
        The ethogram; other codes are left out and said. None takes all.
    """

    animal: Coded
    session: Coded
    behaviour: Coded
    out_of_sight: Collection[str] = OUT_OF_SIGHT
    known: Collection[str] | None = None

    def __post_init__(self) -> None:
        same_length(animal=self.animal, session=self.session, behaviour=self.behaviour)

    @property
    def seen_as(self) -> tuple[str, ...]:
        """The behaviours, in the order of the ethogram or of their first scan."""
        words = self.behaviour.words if self.known is None else tuple(self.known)
        return tuple(word for word in words if word not in self.out_of_sight)


def time_budget(
    scans: Scans,
    *,
    recorded: Recorded = SCANS,
    least_visible: float = 0.0,
    confidence: float = 0.95,
    seed: int = 1,
) -> Budget:
    """Give the share of sample points of each behaviour, by animal and over animals.

    Parameters
    ----------
    scans : Scans
    recorded : Recorded
        Anything but instantaneous recording is refused.
    least_visible : float, default 0
        Sessions visible for a smaller share than this, 0 to 1, are left out.
    confidence : float, default 0.95
    seed : int, default 1
        Of the draws of sessions.

    Returns
    -------
    Budget
        Scans of an animal are added over its sessions; each animal then counts once.

    Raises
    ------
    Unsound
        Where the recording gives no share of points, or no scan is left.

    References
    ----------
    Altmann, J. (1974). Behaviour 49, 227–267.

    Examples
    --------
    >>> from archive.analysis.columns import coded
    >>> seen = ["out of sight"] * 12 + ["swim"] * 24 + ["rest"] * 24
    >>> found = time_budget(Scans(coded(["Moss"] * 60), coded(["s"] * 60), coded(seen)))
    >>> round(found.visible.mean, 2), found.of("swim").of_visible.mean
    (0.8, 0.5)
    """
    recorded.must_give(Summary.SHARE_OF_POINTS)
    gaps: list[Gap] = []
    keep = _usable(scans, gaps)
    return budget_of(
        _counted(_named(scans, keep, gaps), keep),
        Summary.SHARE_OF_POINTS,
        least_visible=least_visible,
        confidence=confidence,
        seed=seed,
        gaps=gaps,
    )


def interval_shares(
    scans: Scans,
    interval: Coded,
    *,
    recorded: Recorded = INTERVALS,
    confidence: float = 0.95,
    seed: int = 1,
) -> Budget:
    """Give the share of intervals in which each behaviour was seen at all: one-zero recording.

    Parameters
    ----------
    scans : Scans
        One row for each behaviour that was seen in an interval; an interval in which the animal
        could not be seen, or in which nothing was seen, has one row with a code that says so.
    interval : Coded
        The interval of each row within its session.

    Notes
    -----
    It is no share of time, which it over-estimates, and shares may add up to more than 1.
    """
    recorded.must_give(Summary.SHARE_OF_INTERVALS)
    gaps: list[Gap] = []
    same_length(animal=scans.animal, interval=interval)
    keep = _usable(scans, gaps)
    scans = _named(scans, keep, gaps)
    if not interval.known[keep].all():
        gaps.append(
            Gap(
                f"{int((keep & ~interval.known).sum())} rows are left out.",
                "They do not say which interval they belong to.",
            )
        )
        keep &= interval.known
    columns = (scans.animal, scans.session, interval, scans.behaviour)
    distinct = np.unique(np.stack([one.codes[keep] for one in columns]), axis=1)
    once = _counted(_with_rows(scans, distinct[[0, 1, 3]]), np.ones(distinct.shape[1], bool))
    each, where = np.unique(distinct[:3], axis=1, return_inverse=True)
    is_seen = ~_is_hidden(scans)[distinct[3]]
    visible = np.bincount(where.ravel(), is_seen, minlength=each.shape[1]) > 0
    pair = each[0].astype(np.int64) * (len(scans.session.words) + 1) + each[1] + 1
    _, place = np.unique(pair, return_inverse=True)
    total = np.bincount(place).astype(float)
    unseen = np.bincount(place, ~visible)
    found = Amounts(once.behaviours, once.amounts, total, unseen, once.animal, once.animals)
    return budget_of(found, Summary.SHARE_OF_INTERVALS, confidence=confidence, seed=seed, gaps=gaps)


def _with_rows(scans: Scans, codes: Codes) -> Scans:
    return replace(
        scans,
        animal=Coded(codes[0], scans.animal.words),
        session=Coded(codes[1], scans.session.words),
        behaviour=Coded(codes[2], scans.behaviour.words),
    )


def _is_hidden(scans: Scans) -> Flags:
    return np.array([word in scans.out_of_sight for word in scans.behaviour.words], dtype=bool)


def _usable(scans: Scans, gaps: list[Gap]) -> Flags:
    """Say which rows are scans of a behaviour that is known; tell of the others."""
    keep = scans.behaviour.known
    empty = int((~keep).sum())
    if empty:
        gaps.append(Gap(f"{empty} rows are left out.", "They name no behaviour."))
    if scans.known is not None:
        words = scans.behaviour.words
        strange = [w not in scans.known and w not in scans.out_of_sight for w in words]
        if any(strange):
            is_strange = keep & np.array([*strange, False])[scans.behaviour.codes]
            names = [w for w, is_one in zip(words, strange, strict=True) if is_one]
            gaps.append(
                Gap(
                    f"{int(is_strange.sum())} rows are left out.",
                    f"The ethogram does not know {few_named(names)}.",
                )
            )
            keep = keep & ~is_strange
    if not keep.any():
        bounds.refuse(
            "behaviour",
            "No time budget can be computed.",
            "No row names a known behaviour.",
            "Check which column holds the behaviour.",
        )
    return keep


def _counted(scans: Scans, keep: Flags) -> Amounts:
    """Count every behaviour in every session of every animal, with one pass over the rows."""
    pairs, pair = _pairs(scans.animal.codes, scans.session, keep)
    width = len(scans.behaviour.words)
    cell = pair * width + (scans.behaviour.codes if keep.all() else scans.behaviour.codes[keep])
    counts = np.bincount(cell, minlength=len(pairs) * width).reshape(len(pairs), width)
    hidden = _is_hidden(scans)
    names = scans.seen_as
    amounts = np.zeros((len(pairs), len(names)))
    for place, name in enumerate(names):
        column = scans.behaviour.place(name)
        if column >= 0:
            amounts[:, place] = counts[:, column]
    total = counts.sum(axis=1).astype(float)
    unseen: Numbers = counts[:, hidden].sum(axis=1).astype(float)
    return Amounts(names, amounts, total, unseen, pairs, scans.animal.words)


def _named(scans: Scans, keep: Flags, gaps: list[Gap]) -> Scans:
    """Leave out of `keep` rows without an animal; where none has one, take all as one."""
    known = scans.animal.known
    lost = int((keep & ~known).sum())
    if not lost:
        return scans
    if (known & keep).any():
        gaps.append(Gap(f"{lost} rows are left out.", "They do not say which animal was seen."))
        keep &= known
        return scans
    gaps.append(
        Gap(
            "Nothing can be said of animals, nor of how they differ.",
            "No row says which animal was seen; the shares are of all rows together.",
        )
    )
    return replace(scans, animal=Coded(np.zeros(len(known), dtype=np.int32), (NOBODY,)))


def _pairs(animal: Codes, session: Coded, keep: Flags) -> tuple[Places, Places]:
    """Number the sessions of animals that occur; give the animal of each, and each row's number."""
    wide = len(session.words) + 1
    both = animal.astype(np.int64) * wide + (session.codes + 1)
    if not keep.all():
        both = both[keep]
    span = int(both.max()) + 1
    if span > 4 * len(both) + 1000:  # too sparse for a table of all pairs
        found, row = np.unique(both, return_inverse=True)
        return found // wide, row
    there = np.bincount(both, minlength=span) > 0
    found = np.flatnonzero(there)
    return found // wide, (np.cumsum(there) - 1)[both]
