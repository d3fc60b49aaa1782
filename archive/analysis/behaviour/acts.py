"""What continuous records alone can give: rates, lengths of bouts and latencies, over animals."""

from dataclasses import dataclass

import numpy as np

from archive.analysis.behaviour.bouts import SLACK_S, Bouts, Clean, cleaned
from archive.analysis.behaviour.budgets import Places
from archive.analysis.behaviour.recorded import CONTINUOUS, Recorded
from archive.analysis.gaps import Gap
from archive.analysis.means import Mean, Numbers, mean_of
from registry.design.recording import Summary

AN_HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Acted:
    """One behaviour, over animals.

    Parameters
    ----------
    behaviour : str
    is_state : bool
    count : int
        Bouts or events in all.
    rate_per_h : Mean
        Over animals: bouts or events in an hour of visible time.
    bout_s : Mean or None
        Over animals: mean length of an animal's bouts, in seconds; None of an event, and where all
        sampling of durations is refused.
    cut_short : int
        Bouts that the end of the session or the animal's going out of sight cut off: true lengths
        are longer.
    latency_s : Mean or None
        Over animals: mean time from the beginning of the session to the first one, in seconds, of
        sessions in which it was seen; None where refused.
    never : int
        Sessions of an animal in which it was not seen: their latency is longer than the session.
    """

    behaviour: str
    is_state: bool
    count: int
    rate_per_h: Mean
    bout_s: Mean | None
    cut_short: int
    latency_s: Mean | None
    never: int


def acts(
    bouts: Bouts, *, recorded: Recorded = CONTINUOUS, confidence: float = 0.95
) -> tuple[tuple[Acted, ...], tuple[Gap, ...]]:
    """Give rates, lengths of bouts and latencies of every behaviour, over animals.

    Parameters
    ----------
    bouts : Bouts
    recorded : Recorded
        What gives no frequency is refused; all occurrences of one behaviour give rates alone.
    confidence : float, default 0.95

    Returns
    -------
    tuple of Acted, tuple of Gap

    References
    ----------
    Altmann, J. (1974). Behaviour 49, 227–267 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> from archive.analysis.behaviour.bouts import Act, Watched
    >>> from archive.analysis.columns import coded
    >>> watched = Watched(coded(["Moss"]), coded(["s"]), np.array([1800.0]))
    >>> rows = [coded(["Moss"] * 3), coded(["s"] * 3), coded(["breach"] * 3)]
    >>> times = [np.array([60.0, 90.0, 600.0])] * 2
    >>> found, _ = acts(Bouts(watched, *rows, *times, [Act("breach", is_state=False)]))
    >>> found[0].rate_per_h.mean, found[0].latency_s.mean
    (6.0, 60.0)
    """
    recorded.must_give(Summary.FREQUENCY)
    clean, watched = cleaned(bouts), bouts.watched
    usable = clean.whole
    animal = watched.animal.codes.astype(np.intp)
    n, watches = len(watched.animal.words), len(watched.length_s)
    counts, seconds = clean.counts(watches), clean.seconds(watches)
    visible = (watched.length_s - seconds[:, clean.hidden])[usable]
    hours = np.bincount(animal[usable], visible, minlength=n) / AN_HOUR_S
    first, cut = _first_and_cut(clean, watched.length_s)
    gaps = list(clean.gaps)
    found = []
    for place, one in enumerate(bouts.acts):
        counted = _by_animal(animal[usable], counts[usable, place], n)
        rate = _over(counted, hours)
        length = _over(_by_animal(animal[usable], seconds[usable, place], n), counted)
        seen = usable & np.isfinite(first[:, place])
        sessions = _by_animal(animal[seen], np.ones(int(seen.sum())), n)
        waited = _over(_by_animal(animal[seen], first[seen, place], n), sessions)
        never = int((usable & ~seen).sum())
        gives_times = recorded.gives(Summary.DURATION)
        found.append(
            Acted(
                one.code,
                one.is_state,
                int(counted.sum()),
                mean_of(rate, confidence=confidence, least=0.0),
                mean_of(length, confidence=confidence, least=0.0)
                if one.is_state and gives_times
                else None,
                int(cut[place]),
                mean_of(waited, confidence=confidence, least=0.0)
                if recorded.gives(Summary.LATENCY)
                else None,
                never,
            )
        )
    gaps += _never_seen(found)
    return tuple(found), tuple(gaps)


def _by_animal(animal: Places, values: Numbers, n: int) -> Numbers:
    return np.bincount(animal, values, minlength=n)


def _over(above: Numbers, below: Numbers) -> Numbers:
    return np.asarray(above / np.where(below > 0, below, np.nan))


def _first_and_cut(clean: Clean, length_s: Numbers) -> tuple[Numbers, Places]:
    """Give the first time of each behaviour in each watch, and how many bouts were cut off."""
    first = np.full((len(length_s), len(clean.codes)), np.inf)
    np.minimum.at(first, (clean.watch, clean.act), clean.begin_s)
    # All watches on one line, so that one search finds what went out of sight as a bout ended.
    line = clean.watch * (float(length_s.max()) + 1)
    hides = (line + clean.begin_s)[clean.act == clean.hidden] + SLACK_S
    ends = line + clean.end_s
    after = np.searchsorted(hides, ends)
    goes = np.append(hides, np.inf)[after] <= ends + 2 * SLACK_S
    at_end = clean.end_s >= length_s[clean.watch] - SLACK_S
    cut = clean.states[clean.act] & (at_end | goes)
    return first, np.bincount(clean.act[cut], minlength=len(clean.codes))


def _never_seen(found: list[Acted]) -> list[Gap]:
    return [
        Gap(
            f"The latency of “{one.behaviour}” is too short by an unknown time.",
            f"It was not seen in {one.never} sessions, which do not count in its mean.",
        )
        for one in found
        if one.never and one.count and one.latency_s is not None
    ]
