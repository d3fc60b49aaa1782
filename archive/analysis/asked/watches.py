"""Bouts as a table holds them: sessions with their length, the ethogram, times in seconds."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.behaviour.bouts import Act, Bouts, Watched
from archive.analysis.behaviour.scans import OUT_OF_SIGHT
from archive.analysis.columns import Coded
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds


def bouts_of(frame: Frame, request: Request, facts: Mapping[str, Any], gaps: list[Gap]) -> Bouts:
    """Read bouts, and the sessions that they lie in.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots animal, behaviour, begin, end, session, opened, closed: moments, or seconds since the
        beginning of the session; options unseen and minutes, the length of every session.
    facts : mapping
        `acts`: code, kind and exclusive set of each behaviour.
    gaps : list of Gap
        What is taken for granted is added.
    """
    animal = frame.animals(request.column("animal"), gaps)
    behaviour = frame.words(request.column("behaviour"))
    session = sessions_of(frame, request, len(animal.codes))
    begin = frame.seconds(request.column("begin"))
    named = request.column("end")
    end = frame.seconds(named) if named else begin
    opens, closes = _edges(frame, request, begin, end, gaps)
    pair = animal.codes.astype(np.int64) * (len(session.words) + 1) + session.codes
    known = animal.known & session.known
    each, first, where = np.unique(pair[known], return_index=True, return_inverse=True)
    opened, closed = np.full(len(each), np.inf), np.full(len(each), -np.inf)
    np.fmin.at(opened, where, opens[known])
    np.fmax.at(closed, where, closes[known])
    length = closed - opened
    good = np.isfinite(length) & (length > 0)
    if not good.all():
        gaps.append(
            Gap(
                f"{int((~good).sum())} sessions of an animal are left out.",
                "They have no length: their end is missing, or is not after their beginning.",
            )
        )
    if not good.any():
        bounds.refuse(
            "begin", "Nothing can be computed.", "No session of an animal has a length above 0.",
            "Name the columns of beginning and end, and say how long sessions last.",
        )  # fmt: skip
    watched = Watched(
        Coded(animal.codes[known][first][good], animal.words),
        Coded(session.codes[known][first][good], session.words),
        length[good],
    )
    since = np.full(len(begin), np.nan)
    since[known] = opened[where]
    unseen = frozenset(request.options.get("unseen") or ()) | OUT_OF_SIGHT
    acts = _acts(behaviour, begin, end, facts, gaps)
    return Bouts(watched, animal, session, behaviour, begin - since, end - since, acts, unseen)


def sessions_of(frame: Frame, request: Request, rows: int) -> Coded:
    """Give the session of each row; one of all rows where no column names them."""
    if request.column("session"):
        return frame.words(request.column("session"))
    return Coded(np.zeros(rows, dtype=np.int32), ("all",))


def _edges(
    frame: Frame, request: Request, begin: Numbers, end: Numbers, gaps: list[Gap]
) -> tuple[Numbers, Numbers]:
    """Give when the session of each row began and ended, as far as the row can say."""
    is_clock = frame.is_clock(request.column("begin"))
    opens = np.zeros(len(begin))
    if request.column("opened"):
        opens = frame.seconds(request.column("opened"))
    elif is_clock:
        opens = begin
        gaps.append(
            Gap(
                "Latencies are counted from the first row of each session.",
                "No column says when sessions began.",
            )
        )
    minutes = float(request.options.get("minutes") or 0)
    if request.column("closed"):
        return opens, frame.seconds(request.column("closed"))
    if minutes > 0 and (request.column("opened") or not is_clock):
        return opens, opens + 60 * minutes
    if minutes > 0:
        gaps.append(
            Gap(
                "The length of sessions that was given is not used.",
                "Rows hold moments, and none says when its session began.",
            )
        )
    gaps.append(
        Gap(
            "Sessions are taken to end with their last row.",
            "Neither a column nor a length says when they ended, so what came after is not known.",
        )
    )
    return opens, np.fmax(begin, end)


def _acts(
    behaviour: Coded,
    begin: Numbers,
    end: Numbers,
    facts: Mapping[str, Any],
    gaps: list[Gap],
) -> list[Act]:
    """Give the ethogram of the dictionary, or what the rows themselves show of one."""
    told = facts.get("acts")
    if told:
        return [Act(code, kind != "event", exclusive) for code, kind, exclusive in told]
    gaps.append(
        Gap(
            "What has an end is taken as a state, of which an animal does one at a time.",
            "The dictionary holds no ethogram.",
        )
    )
    lasts = {behaviour.words[code] for code in behaviour.codes[end > begin] if code >= 0}
    return [Act(word, word in lasts) for word in behaviour.words]
