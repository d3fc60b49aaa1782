"""Scans: the share of sample points, or of intervals, at which each behaviour was seen."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np

from archive.analysis.behaviour.budgets import Amounts, Budget, Places, budget_of
from archive.analysis.behaviour.recorded import INTERVALS, SCANS, Recorded
from archive.analysis.behaviour.tally import Counts, Tally, joined, tallied
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
    def tally(self) -> Tally:
        """The counts of these rows."""
        return tallied(self.animal, self.session, self.behaviour)


def time_budget(
    scans: Scans | Iterable[Scans],
    *,
    recorded: Recorded = SCANS,
    least_visible: float = 0.0,
    confidence: float = 0.95,
    these_animals: bool = False,
    seed: int = 1,
) -> Budget:
    """Give the share of sample points of each behaviour, by animal and over animals.

    Parameters
    ----------
    scans : Scans or iterable of Scans
        All rows, or pieces of them with one ethogram, which are let go as they are counted.
    recorded : Recorded
        Anything but instantaneous recording is refused.
    least_visible : float, default 0
        Sessions visible for a smaller share than this, 0 to 1, are left out.
    confidence : float, default 0.95
    these_animals : bool, default False
        Whether to draw sessions again within animals, for an interval that speaks of these alone.
    seed : int, default 1
        Of those draws.

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
    pieces = iter([scans] if isinstance(scans, Scans) else scans)
    first = next(pieces, None)
    if first is None:
        _no_rows()
    counted = joined([first.tally, *(one.tally for one in pieces)])
    return budget_of(
        _amounts(counted, first, gaps),
        Summary.SHARE_OF_POINTS,
        least_visible=least_visible,
        confidence=confidence,
        these_animals=these_animals,
        seed=seed,
        gaps=gaps,
    )


def interval_shares(
    scans: Scans,
    interval: Coded,
    *,
    recorded: Recorded = INTERVALS,
    confidence: float = 0.95,
    these_animals: bool = False,
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
    same_length(animal=scans.animal, interval=interval)
    gaps: list[Gap] = []
    lost = int((scans.behaviour.known & ~interval.known).sum())
    if lost:
        gaps.append(Gap(f"{lost} rows are left out.", "They do not say which interval it was."))
    columns = (scans.animal, scans.session, interval, scans.behaviour)
    rows = np.unique(np.stack([one.codes[interval.known] for one in columns]), axis=1)
    distinct = _of_rows(scans, rows[0], rows[1], rows[3], scans.behaviour.words)
    found = _amounts(distinct.tally, scans, gaps)
    # How many intervals there were, and in how many the animal was not seen at all.
    words = scans.behaviour.words
    rows = rows[:, np.append(_is_known(words, scans), False)[rows[3]]]
    each, where = np.unique(rows[:3], axis=1, return_inverse=True)
    is_seen = np.bincount(where.ravel(), ~_is_hidden(words, scans)[rows[3]]) > 0
    marks = (~is_seen).astype(np.int32)
    intervals = _of_rows(scans, each[0], each[1], marks, ("seen", "hidden"))
    whole = _amounts(intervals.tally, replace(intervals, known=None, out_of_sight={"hidden"}), [])
    return budget_of(
        replace(found, total=whole.total, unseen=whole.unseen),
        Summary.SHARE_OF_INTERVALS,
        confidence=confidence,
        these_animals=these_animals,
        seed=seed,
        gaps=gaps,
    )


def _of_rows(
    scans: Scans, animal: Codes, session: Codes, behaviour: Codes, words: tuple[str, ...]
) -> Scans:
    return replace(
        scans,
        animal=Coded(animal, scans.animal.words),
        session=Coded(session, scans.session.words),
        behaviour=Coded(behaviour, words),
    )


def _is_hidden(words: Sequence[str], scans: Scans) -> Flags:
    return np.array([one in scans.out_of_sight for one in words], dtype=bool)


def _is_known(words: Sequence[str], scans: Scans) -> Flags:
    known = words if scans.known is None else scans.known
    return np.array([one in known or one in scans.out_of_sight for one in words], dtype=bool)


def _no_rows() -> NoReturn:
    bounds.refuse(
        "behaviour",
        "No time budget can be computed.",
        "No row names a known behaviour.",
        "Check which column holds the behaviour.",
    )


def _amounts(found: Tally, scans: Scans, gaps: list[Gap]) -> Amounts:
    """Give what was counted, by the ethogram of some scans; tell of rows that are no scans."""
    counts, words = found.counts[:, 1:], found.behaviours
    empty = int(found.counts[:, 0].sum())
    if empty:
        gaps.append(Gap(f"{empty} rows are left out.", "They name no behaviour."))
    is_known = _is_known(words, scans)
    strange = int(counts[:, ~is_known].sum())
    if strange:
        said = few_named([one for one, is_one in zip(words, is_known, strict=True) if not is_one])
        gaps.append(Gap(f"{strange} rows are left out.", f"The ethogram does not know {said}."))
    animal, counts, animals = _named(found.animal, counts * is_known, found.animals, gaps)
    known = words if scans.known is None else scans.known
    names = tuple(one for one in known if one not in scans.out_of_sight)
    amounts = np.zeros((len(counts), len(names)))
    for place, name in enumerate(names):
        if name in words:
            amounts[:, place] = counts[:, words.index(name)]
    total: Numbers = counts.sum(axis=1).astype(float)
    unseen: Numbers = counts[:, _is_hidden(words, scans)].sum(axis=1).astype(float)
    return Amounts(names, amounts, total, unseen, animal, animals)


def _named(
    animal: Places, counts: Counts, animals: tuple[str, ...], gaps: list[Gap]
) -> tuple[Places, Counts, tuple[str, ...]]:
    """Leave out sessions without scans, and rows without an animal unless none has one."""
    there = counts.any(axis=1)
    animal, counts = animal[there], counts[there]
    if not len(counts):
        _no_rows()
    nameless = animal < 0
    if not nameless.any():
        return animal, counts, animals
    if nameless.all():
        gaps.append(
            Gap(
                "Nothing can be said of animals, nor of how they differ.",
                "No row says which animal was seen; the shares are of all rows together.",
            )
        )
        return animal + 1, counts, (NOBODY,)
    lost = counts[nameless].sum()
    gaps.append(Gap(f"{lost} rows are left out.", "They do not say which animal was seen."))
    return animal[~nameless], counts[~nameless], animals
