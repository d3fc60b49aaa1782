"""Continuous records: watches, the bouts in them, and what is wrong with either."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from archive.analysis.behaviour.budgets import Amounts, Budget, Places, budget_of
from archive.analysis.behaviour.recorded import CONTINUOUS, Recorded
from archive.analysis.behaviour.scans import OUT_OF_SIGHT
from archive.analysis.columns import Coded, Flags, same_length
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.recording import Summary
from registry.design.schedules.intervals import Watch

SLACK_S = 1e-6
"""Times nearer than this are the same: what rounding makes of them."""
MAY_LACK = 0.01
"""Share of visible time that states may leave unrecorded before it is said."""


@dataclass(frozen=True, slots=True)
class Act:
    """A behaviour of the ethogram.

    Parameters
    ----------
    code : str
    is_state : bool, default True
        False of an event: momentary, it has a time and no length.
    exclusive : str, default "states"
        Name of the set of which an animal does one at a time; "" where it goes with anything.
    """

    code: str
    is_state: bool = True
    exclusive: str = "states"


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """The focal watches: one row for each watch of one animal.

    Parameters
    ----------
    animal, session : Coded
    length_s : ndarray of float, shape (watches,)
        Seconds.
    """

    animal: Coded
    session: Coded
    length_s: Numbers

    def __post_init__(self) -> None:
        same_length(animal=self.animal, session=self.session, length_s=self.length_s)
        if not len(self.length_s) or not (self.length_s > 0).all():
            bounds.refuse(
                "length_s",
                "A watch must have a length above 0 seconds.",
                "One has none, or no watch was given.",
                "Give beginning and end of every session.",
            )
        if len(set(self.names)) < len(self.length_s):
            bounds.refuse(
                "session",
                "A session of an animal is given twice.",
                "Its bouts would belong to either.",
                "Give each session of an animal one row.",
            )

    @property
    def names(self) -> list[tuple[str, str]]:
        """Animal and session of each watch; an empty cell is ""."""
        animals, sessions = (*self.animal.words, ""), (*self.session.words, "")
        return [
            (animals[a], sessions[s])
            for a, s in zip(self.animal.codes, self.session.codes, strict=True)
        ]


@dataclass(frozen=True, slots=True, eq=False)
class Bouts:
    """Continuous records: one row for each bout of a state or each event.

    Parameters
    ----------
    watched : Watched
    animal, session, behaviour : Coded
        Of each row.
    begin_s, end_s : ndarray of float, shape (rows,)
        Seconds from the beginning of the watch; the end of an event is not read.
    ethogram : sequence of Act
    out_of_sight : collection of str
        States in which the animal could not be seen.
    """

    watched: Watched
    animal: Coded
    session: Coded
    behaviour: Coded
    begin_s: Numbers
    end_s: Numbers
    ethogram: Sequence[Act]
    out_of_sight: Collection[str] = OUT_OF_SIGHT

    def __post_init__(self) -> None:
        same_length(
            animal=self.animal,
            session=self.session,
            behaviour=self.behaviour,
            begin_s=self.begin_s,
            end_s=self.end_s,
        )

    @property
    def acts(self) -> tuple[Act, ...]:
        """The ethogram without what says that the animal was out of sight."""
        return tuple(one for one in self.ethogram if one.code not in self.out_of_sight)


@dataclass(frozen=True, slots=True, eq=False)
class Clean:
    """Rows that hold together, and the watches that they belong to.

    Parameters
    ----------
    watch : ndarray of int, shape (rows,)
        Place of each row's watch.
    act : ndarray of int, shape (rows,)
        Place in `codes`.
    begin_s, end_s : ndarray of float, shape (rows,)
        In order of watch and beginning.
    codes : tuple of str
        The ethogram, out of sight last.
    states : ndarray of bool, shape (codes,)
    whole : ndarray of bool, shape (watches,)
        Watches of which all rows hold together; the others have no rows here.
    """

    watch: Places
    act: Places
    begin_s: Numbers
    end_s: Numbers
    codes: tuple[str, ...]
    states: Flags
    whole: Flags
    gaps: tuple[Gap, ...]

    @property
    def hidden(self) -> int:
        """Place in `codes` of being out of sight."""
        return len(self.codes) - 1

    def seconds(self, watches: int) -> Numbers:
        """Add up the seconds of every state: shape (watches, codes)."""
        took = np.where(self.states[self.act], self.end_s - self.begin_s, 0.0)
        cell = self.watch * len(self.codes) + self.act
        added = np.bincount(cell, took, minlength=watches * len(self.codes))
        return added.reshape(watches, len(self.codes))

    def counts(self, watches: int) -> Numbers:
        """Count bouts and events: shape (watches, codes)."""
        cell = self.watch * len(self.codes) + self.act
        counted = np.bincount(cell, minlength=watches * len(self.codes))
        return counted.reshape(watches, len(self.codes)).astype(float)


def cleaned(bouts: Bouts) -> Clean:
    """Put rows in order; leave out, and tell of, whatever does not hold together.

    Notes
    -----
    A watch in which a bout overlaps another of its exclusive set, ends before it begins or lies
    outside the watch is left out whole: some of its times are wrong, and nobody can say which.
    """
    gaps: list[Gap] = []
    watch = _watch_of(bouts, gaps)
    acts = bouts.acts
    codes = (*(one.code for one in acts), "")
    states = np.array([*(one.is_state for one in acts), True])
    act = _act_of(bouts, codes, gaps)
    keep = (watch >= 0) & (act >= 0)
    order = np.lexsort((bouts.begin_s, watch))
    order = order[keep[order]]
    watch, act, begin = watch[order], act[order], bouts.begin_s[order]
    end = np.where(states[act], bouts.end_s[order], begin)
    length = bouts.watched.length_s[watch]
    names = bouts.watched.names
    whole = bouts.watched.animal.known.copy()
    if not whole.all():
        gaps.append(
            Gap(
                f"{int((~whole).sum())} sessions are left out.",
                "They do not say which animal was watched.",
            )
        )

    def leave(bad: Flags, why: str) -> None:
        places = np.unique(watch[bad & whole[watch]])
        if len(places):
            whole[places] = False
            said = few_named([" of ".join(reversed(names[place])) for place in places])
            gaps.append(Gap(f"These sessions are left out: {said}.", why))

    leave(~(np.isfinite(begin) & np.isfinite(end)), "A bout in each lacks a beginning or an end.")
    leave(
        (begin < -SLACK_S) | (end > length + SLACK_S),
        "Something in each lies outside the session.",
    )
    leave(states[act] & (end <= begin), "A bout in each does not end after it begins.")
    for chosen in _exclusive(acts):
        leave(
            _overlapping(watch, begin, end, chosen[act]),
            "Bouts in each overlap that cannot go on at once, so the time cannot be divided.",
        )
    good = whole[watch]
    return Clean(watch[good], act[good], begin[good], end[good], codes, states, whole, tuple(gaps))


def _watch_of(bouts: Bouts, gaps: list[Gap]) -> Places:
    """Give the watch of each row, −1 of a row that has none."""
    watched = bouts.watched
    places = {name: place for place, name in enumerate(watched.names)}
    animals, sessions = (*bouts.animal.words, ""), (*bouts.session.words, "")
    wide = len(sessions)
    pair = bouts.animal.codes.astype(np.int64) * wide + bouts.session.codes + wide + 1
    each, where = np.unique(pair, return_inverse=True)
    found = np.array(
        [places.get((animals[one // wide - 1], sessions[one % wide - 1]), -1) for one in each],
        dtype=np.intp,
    )
    watch = found[where] if len(each) else np.zeros(0, dtype=np.intp)
    lost = int((watch < 0).sum())
    if lost:
        gaps.append(Gap(f"{lost} rows are left out.", "They belong to no session of their animal."))
    return watch


def _act_of(bouts: Bouts, codes: tuple[str, ...], gaps: list[Gap]) -> Places:
    """Give the place in the ethogram of each row, −1 of what it does not know."""
    places = dict.fromkeys(bouts.out_of_sight, len(codes) - 1)
    places |= {code: place for place, code in enumerate(codes[:-1])}
    words = bouts.behaviour.words
    act = np.array([*(places.get(word, -1) for word in words), -1])[bouts.behaviour.codes]
    strange = [word for word in words if word not in places]
    if (act < 0).any():
        why = f"The ethogram does not know {few_named(strange)}." if strange else ""
        gaps.append(
            Gap(f"{int((act < 0).sum())} rows are left out.", why or "They name no behaviour.")
        )
    return act


def _exclusive(acts: Sequence[Act]) -> list[Flags]:
    """Give the sets of which one goes on at a time, each with being out of sight."""
    sets: dict[str, list[int]] = {}
    for place, one in enumerate(acts):
        if one.is_state:
            # What goes with anything still does not go on twice at once.
            sets.setdefault(one.exclusive or f"only {one.code}", []).append(place)
    found = []
    for places in sets.values() or [[]]:
        chosen = np.zeros(len(acts) + 1, dtype=bool)
        chosen[places] = True
        chosen[-1] = True
        found.append(chosen)
    return found


def _overlapping(watch: Places, begin: Numbers, end: Numbers, chosen: Flags) -> Flags:
    """Say which of the chosen rows begin before the chosen row before them has ended."""
    rows = np.flatnonzero(chosen)
    bad = np.zeros(len(watch), dtype=bool)
    same = watch[rows][1:] == watch[rows][:-1]
    bad[rows[1:]] = same & (begin[rows][1:] < end[rows][:-1] - SLACK_S)
    return bad


def timed_budget(
    bouts: Bouts,
    *,
    recorded: Recorded = CONTINUOUS,
    least_visible: float = 0.0,
    confidence: float = 0.95,
    these_animals: bool = False,
    seed: int = 1,
) -> Budget:
    """Give the share of time of each state, by animal and over animals.

    Parameters
    ----------
    bouts : Bouts
    recorded : Recorded
        Anything but continuous recording of focal animals is refused.
    least_visible, confidence, these_animals, seed
        As in `time_budget`.

    Examples
    --------
    >>> import numpy as np
    >>> from archive.analysis.columns import coded
    >>> watched = Watched(coded(["Moss"]), coded(["s"]), np.array([100.0]))
    >>> two = [coded(["Moss"] * 2), coded(["s"] * 2), coded(["swim", "oos"])]
    >>> times = [np.array([0.0, 80.0]), np.array([40.0, 100.0])]
    >>> found = timed_budget(Bouts(watched, *two, *times, [Act("swim"), Act("rest")]))
    >>> found.of("swim").of_visible.mean, found.visible.mean
    (0.5, 0.8)
    """
    recorded.must_give(Summary.SHARE_OF_TIME)
    clean, watched = cleaned(bouts), bouts.watched
    seconds = clean.seconds(len(watched.length_s))
    named = clean.states[:-1]
    names = tuple(code for code, is_one in zip(clean.codes, named, strict=False) if is_one)
    found = Amounts(
        names,
        seconds[:, :-1][:, named],
        watched.length_s,
        seconds[:, clean.hidden],
        watched.animal.codes.astype(np.intp),
        watched.animal.words,
    ).only(clean.whole)
    gaps = [*clean.gaps, *_unaccounted(bouts, clean, seconds)]
    return budget_of(
        found,
        Summary.SHARE_OF_TIME,
        least_visible=least_visible,
        confidence=confidence,
        these_animals=these_animals,
        seed=seed,
        gaps=gaps,
    )


def _unaccounted(bouts: Bouts, clean: Clean, seconds: Numbers) -> list[Gap]:
    """Tell of visible time in which no state of an exclusive set was recorded."""
    sets: Mapping[str, list[int]] = {}
    for place, one in enumerate(bouts.acts):
        if one.is_state and one.exclusive:
            sets = {**sets, one.exclusive: [*sets.get(one.exclusive, []), place]}
    visible = (bouts.watched.length_s - seconds[:, clean.hidden])[clean.whole].sum()
    gaps = []
    for name, places in sets.items():
        lacks = 1 - seconds[clean.whole][:, places].sum() / visible if visible > 0 else 0.0
        if lacks > MAY_LACK:
            gaps.append(
                Gap(
                    f"The shares of the set “{name}” do not add up to 1.",
                    f"In {100 * lacks:.1f} per cent of visible time none of it was recorded.",
                )
            )
    return gaps


def watches_of(bouts: Bouts, behaviour: str) -> list[Watch]:
    """Give the bouts of one state as watches, for `registry.design.interval_check`.

    Notes
    -----
    Only what was recorded continuously can say which interval between scans would have been short
    enough.
    """
    CONTINUOUS.must_give(Summary.BOUTS)
    clean = cleaned(bouts)
    if behaviour not in clean.codes[:-1]:
        bounds.refuse(
            "behaviour",
            f"“{behaviour}” is not in the ethogram.",
            f"It holds {few_named(list(clean.codes[:-1]))}.",
            "Name one of these.",
        )
    is_one = clean.act == clean.codes.index(behaviour)
    found = []
    for place, (animal, _) in enumerate(bouts.watched.names):
        if clean.whole[place]:
            rows: NDArray[np.bool_] = is_one & (clean.watch == place)
            pairs = zip(clean.begin_s[rows].tolist(), clean.end_s[rows].tolist(), strict=True)
            found.append(Watch(animal, float(bouts.watched.length_s[place]), list(pairs)))
    return found
