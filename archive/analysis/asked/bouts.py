"""Continuous records asked of a table of bouts: times, rates, latencies, and scans of them."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from archive.analysis.asked.budget import over, varied
from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.watches import bouts_of
from archive.analysis.behaviour.acts import AN_HOUR_S, Acted, acts
from archive.analysis.behaviour.bouts import Bouts, cleaned, timed_budget, watches_of
from archive.analysis.behaviour.budgets import Budget
from archive.analysis.behaviour.recorded import CONTINUOUS, Recorded
from archive.analysis.gaps import Gap, few_named
from archive.analysis.means import Mean
from registry.design import bounds, interval_check
from registry.design.recording import Summary
from registry.errors import Unsound

EVERY_S = (15.0, 30.0, 60.0, 120.0, 300.0)
"""Intervals that are tried where none is named; the house's own choice, no source."""


def bouts(frame: Frame, request: Request, facts: Mapping[str, Any]) -> Found:
    """Give how often, how long and how soon, over animals and by animal.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots animal, behaviour, begin, end, session, opened, closed; options unseen and minutes.
    facts : mapping
        `recorded`, the rules of the plan, and `acts`, the ethogram with kinds and sets.
    """
    gaps: list[Gap] = []
    rules = _rules(facts, gaps)
    rules.must_give(Summary.FREQUENCY)
    rows = bouts_of(frame, request, facts, gaps)
    done, told = acts(rows, recorded=rules)
    shares: Budget | None = None
    try:
        shares = timed_budget(rows, recorded=rules, these_animals=True, seed=request.seed)
        told = (*told, *shares.gaps)
    except Unsound as refused:
        told = (*told, Gap(refused.what, refused.why))
    tables = [_acts(done)]
    if shares is not None:
        tables.append(over(shares, "timed", "Share of visible time, mean over animals"))
    tables += _each(rows, has_times=shares is not None)
    # The same is told by rates and by shares: once is enough.
    gaps += dict.fromkeys(told)
    return Found(_said(done, shares), tuple(tables), gaps=tuple(gaps))


def interval(frame: Frame, request: Request, facts: Mapping[str, Any]) -> Found:
    """Scan continuous records again at several intervals, and say which would have done.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots as in `bouts`; options target, a behaviour or "" for every state, and every, seconds
        between scans.
    facts : mapping
        As in `bouts`.
    """
    gaps: list[Gap] = []
    _rules(facts, gaps).must_give(Summary.BOUTS)
    rows = bouts_of(frame, request, facts, gaps)
    named = str(request.options.get("target") or "")
    states = [named] if named else [one.code for one in rows.acts if one.is_state]
    asked = [float(one) for one in request.options.get("every") or EVERY_S]
    gaps += cleaned(rows).gaps
    table: list[tuple[Cell, ...]] = []
    said = []
    for state in states:
        watches = watches_of(rows, state)
        if not any(one.bouts for one in watches):
            gaps.append(Gap(f"No interval can be judged for “{state}”.", "It has no whole bout."))
            continue
        shortest = min(one.length_s for one in watches)
        short = [one for one in asked if one <= shortest]
        found = interval_check(watches, short)
        table += [
            (f"{state}, every {one.interval_s:g} s", one.share, one.bias, one.rmse, one.missed,
             one.half_width, one.independent_s, "yes" if one.is_fine_enough else "no")
            for one in found
        ]  # fmt: skip
        fine = [one.interval_s for one in found if one.is_fine_enough]
        said.append(
            f"“{state}”: every {max(fine):g} s would have been fine enough."
            if fine
            else f"“{state}”: none of these intervals is shown to be fine enough."
        )
        if len(short) < len(asked):
            gaps.append(
                Gap(
                    f"Some intervals were not tried for “{state}”.",
                    f"The shortest session lasts {shortest:g} s.",
                )
            )
    if not table:
        bounds.refuse(
            "behaviour", "No interval can be judged.", "No state has a whole bout.",
            "Name a table of continuous records, with beginnings and ends.",
        )  # fmt: skip
    heads = (
        "behaviour", "share of time", "bias", "error", "share of bouts missed",
        "half of the interval over animals", "scans independent beyond, s", "fine enough",
    )  # fmt: skip
    title = "Scanned again at each interval, from every beginning"
    return Found(
        tuple(said), (Table("tried", title, heads, tuple(table)),), gaps=(*dict.fromkeys(gaps),)
    )


def _rules(facts: Mapping[str, Any], gaps: list[Gap]) -> Recorded:
    rules = facts.get("recorded") or []
    if any(rules):
        return Recorded(*rules)
    gaps.append(
        Gap(
            "It is taken that animals were watched one by one, without a break.",
            "The plan does not name a rule of recording.",
        )
    )
    return CONTINUOUS


def _ends(mean: Mean | None) -> tuple[Cell, Cell, Cell]:
    if mean is None or not np.isfinite(mean.mean):
        return None, None, None
    return mean.mean, mean.low, mean.high


def _acts(done: Sequence[Acted]) -> Table:
    rows = tuple(
        (one.behaviour, "state" if one.is_state else "event", one.count, *_ends(one.rate_per_h),
         *_ends(one.bout_s), one.cut_short if one.is_state else None, *_ends(one.latency_s),
         one.never)
        for one in done
    )  # fmt: skip
    heads = (
        "behaviour", "kind", "number", "times an hour", "from", "to", "length of a bout, s",
        "length from", "length to", "cut short", "latency, s", "latency from", "latency to",
        "sessions without",
    )  # fmt: skip
    return Table("acts", "How often, how long and how soon, mean over animals", heads, rows)


def _each(rows: Bouts, *, has_times: bool) -> list[Table]:
    """Give what each animal did: number, rate and share, and how varied its time was."""
    clean, watched = cleaned(rows), rows.watched
    n = len(watched.length_s)
    counts, seconds = clean.counts(n), clean.seconds(n)
    visible = watched.length_s - seconds[:, clean.hidden]
    states = clean.states[:-1]
    each: list[tuple[Cell, ...]] = []
    amounts = []
    for place, animal in enumerate(watched.animal.words):
        own = clean.whole & (watched.animal.codes == place)
        seen = float(visible[own].sum())
        times = seconds[own].sum(axis=0)[:-1]
        amounts.append(times[states])
        for at, code in enumerate(clean.codes[:-1]):
            number = int(counts[own, at].sum())
            share = float(times[at]) / seen if has_times and states[at] and seen else None
            rate = number * AN_HOUR_S / seen if seen else None
            each.append((f"{animal}, {code}", int(own.sum()), seen, number, rate, share))
    heads = (
        "animal and behaviour",
        "sessions",
        "visible, s",
        "number",
        "times an hour",
        "share of time",
    )
    tables = [Table("each", "What each animal did", heads, tuple(each))]
    if has_times:
        tables.append(varied(watched.animal.words, np.array(amounts)))
    return tables


def _said(done: Sequence[Acted], shares: Budget | None) -> tuple[str, ...]:
    most = max(done, key=lambda one: one.count, default=None)
    if most is None or not most.count:
        return ("No behaviour was seen in visible time.",)
    said = [
        (
            f"{sum(one.count for one in done)} bouts and events in all; most often "
            f"“{most.behaviour}”: {most.rate_per_h.mean:.3g} an hour of visible time."
        )
    ]
    if shares is not None and shares.shares:
        first = max(shares.shares, key=lambda one: np.nan_to_num(one.of_visible.mean, nan=-1.0))
        said.append(
            f"“{first.behaviour}” took most of the visible time: "
            f"{100 * first.of_visible.mean:.0f} per cent, mean over {len(shares.animals)} animals."
        )
    unseen = [one.behaviour for one in done if not one.count]
    if unseen:
        said.append(f"Never seen: {few_named(unseen)}.")
    return tuple(said)
