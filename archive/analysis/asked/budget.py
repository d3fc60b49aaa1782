"""A time budget asked of a table of scans, with the hours of the day where moments are known."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.behaviour.budgets import Budget
from archive.analysis.behaviour.diversity import diversity
from archive.analysis.behaviour.recorded import INTERVALS, SCANS, Recorded
from archive.analysis.behaviour.scans import OUT_OF_SIGHT, Scans, interval_shares, time_budget
from archive.analysis.columns import Coded
from archive.analysis.gaps import Gap
from archive.analysis.means import Mean, Numbers

MOST_DAYS = 366


def budget(frame: Frame, request: Request, recorded: Recorded | None = None) -> Found:
    """Give shares of sample points by behaviour, over animals and by animal.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots animal, behaviour, session, time; option `unseen`, words for out of sight.
    recorded : Recorded, optional
        The rules that the plan names; without it instantaneous scans are taken, and said.
    """
    gaps: list[Gap] = []
    if recorded is None:
        gaps.append(
            Gap(
                "It is taken that rows are instantaneous scans.",
                "The plan does not name a rule of recording.",
            )
        )
    behaviour = frame.words(request.column("behaviour"))
    unseen = frozenset(request.options.get("unseen") or ()) | OUT_OF_SIGHT
    animal = frame.words(request.column("animal"))
    session = frame.words(request.column("session")) if request.column("session") else None
    scans = Scans(animal, session or _one(animal), behaviour, unseen)
    if session is None:
        gaps.append(
            Gap("There is no interval for these animals alone.", "No column names the sessions.")
        )
    found = time_budget(
        scans,
        recorded=recorded or SCANS,
        these_animals=session is not None,
        seed=request.seed,
    )
    tables = _laid(found, "budget", "points")
    if request.column("time"):
        tables += _hours(frame, request, behaviour, unseen)
    return Found(_said(found, "points"), tuple(tables), gaps=(*gaps, *found.gaps))


def intervals(frame: Frame, request: Request, facts: Mapping[str, Any]) -> Found:
    """Give shares of intervals in which each behaviour was seen at all, of one-zero records.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots animal, behaviour, interval, session; option `unseen`, words for out of sight.
    facts : mapping
        `recorded`, the rules of the plan.
    """
    rules = facts.get("recorded") or []
    recorded = Recorded(*rules) if any(rules) else INTERVALS
    animal, behaviour, interval = (
        frame.words(request.column(one)) for one in ("animal", "behaviour", "interval")
    )
    session = frame.words(request.column("session")) if request.column("session") else _one(animal)
    unseen = frozenset(request.options.get("unseen") or ()) | OUT_OF_SIGHT
    found = interval_shares(
        Scans(animal, session, behaviour, unseen),
        interval,
        recorded=recorded,
        these_animals=bool(request.column("session")),
        seed=request.seed,
    )
    gaps = [
        Gap(
            "Shares of intervals are no shares of time.",
            "A behaviour counts once in an interval however short it was: its time is less.",
        ),
        *found.gaps,
    ]
    if not any(rules):
        gaps.append(
            Gap("It is taken that rows are one-zero records.", "The plan names no rule.")
        )  # fmt: skip
    tables = tuple(_laid(found, "intervals", "intervals"))
    return Found(_said(found, "intervals"), tables, gaps=tuple(gaps))


def _laid(found: Budget, name: str, of: str) -> list[Table]:
    title = f"Share of visible {of}, mean over animals"
    return [over(found, name, title, of), _each(found, of), _varied(found)]


def _one(animal: Coded) -> Coded:
    """Take all rows as one session."""
    return Coded(np.zeros(len(animal.codes), dtype=np.int32), ("all",))


def _ends(mean: Mean) -> tuple[Cell, Cell, Cell]:
    return mean.mean, mean.low, mean.high


def over(found: Budget, name: str, title: str, of: str = "time") -> Table:
    """Lay shares over animals, with what hides behind the time out of sight."""
    rows: list[tuple[Cell, ...]] = []
    for one in sorted(found.shares, key=lambda share: -share.of_visible.mean):
        low, high = one.these_animals or (None, None)
        row = (*_ends(one.of_visible), one.of_all.mean, one.at_most.mean, low, high)
        rows.append((one.behaviour, *row))
    return Table(
        name,
        title,
        (
            "behaviour",
            "share",
            "from",
            "to",
            f"least, of all {of}",
            f"most, of all {of}",
            "these animals from",
            "these animals to",
        ),
        tuple(rows),
    )


def _each(found: Budget, of: str) -> Table:
    names = [one.behaviour for one in found.shares]
    rows = [
        (animal, *(_cell(one.by_animal[at]) for one in found.shares))
        for at, animal in enumerate(found.animals)
    ]
    return Table(
        "animals", f"Share of visible {of} of each animal", ("animal", *names), tuple(rows)
    )


def _varied(found: Budget) -> Table:
    shares = np.array([one.by_animal for one in found.shares]).T
    return varied(found.animals, np.nan_to_num(shares))


def varied(animals: Sequence[str], amounts: Numbers) -> Table:
    """Lay how varied the behaviour of each animal was: Shannon's and Simpson's indices.

    Parameters
    ----------
    animals : sequence of str
    amounts : ndarray of float, shape (animals, behaviours)
        Time, points or shares; an animal without any is left out.
    """
    rows: list[tuple[Cell, ...]] = []
    for animal, own in zip(animals, amounts, strict=True):
        if own.sum() > 0:
            one = diversity(own)
            rows.append((animal, one.kinds, one.shannon, one.evenness, one.simpson))
    heads = ("animal", "behaviours", "Shannon’s H, nats", "evenness", "Simpson’s index")
    return Table("diversity", "How varied the behaviour of each animal was", heads, tuple(rows))


def _cell(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _said(found: Budget, of: str) -> tuple[str, ...]:
    first = max(found.shares, key=lambda one: np.nan_to_num(one.of_visible.mean, nan=-1.0))
    shares = [max(0.0, np.nan_to_num(one.of_visible.mean)) for one in found.shares]
    said = [
        (
            f"{len(found.animals)} animals in {found.sessions} sessions of an animal; visible at "
            f"{100 * found.visible.mean:.0f} per cent of the {of}."
        ),
        (
            f"Most of the visible {of} were “{first.behaviour}”: "
            f"{100 * first.of_visible.mean:.0f} per cent{_between(first.of_visible)}."
        ),
    ]
    if sum(shares) > 0:
        said.append(f"Diversity of behaviour: H = {diversity(shares).shannon:.2f} nats.")
    return tuple(said)


def _between(mean: Mean) -> str:
    if mean.low is None or mean.high is None:
        return ""
    return f" ({100 * mean.low:.0f} to {100 * mean.high:.0f} over animals)"


def _hours(frame: Frame, request: Request, behaviour: Coded, unseen: frozenset[str]) -> list[Table]:
    """Count by day and hour: points at which an animal was seen, and the likeliest behaviour."""
    when = frame.moments_d(request.column("time"))
    hidden = np.array([*(word in unseen for word in behaviour.words), True])
    keep = np.isfinite(when) & behaviour.known & ~hidden[behaviour.codes]
    if not keep.any():
        return []
    day = np.floor(when[keep]).astype(int)
    hour = np.floor((when[keep] - day) * 24 + 1e-9).astype(int)
    days = np.unique(day)[:MOST_DAYS]
    active = _active(behaviour, request, keep)
    rows: list[tuple[Cell, ...]] = []
    for one in days:
        for at in np.unique(hour[day == one]):
            here = (day == one) & (hour == at)
            points = int(here.sum())
            said = str(np.datetime64(int(one), "D"))
            rows.append((said, int(at), points, float(active[here].mean())))
    return [
        Table(
            "hours",
            "Active points by day and hour, of visible points",
            ("day", "hour", "points", "share active"),
            tuple(rows),
        )
    ]


def _active(
    behaviour: Coded, request: Request, keep: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Say which points count as active: any behaviour but those that are named as rest."""
    resting = {one.lower() for one in request.options.get("rest") or ("rest", "resting", "sleep")}
    flags = np.array([word.lower() not in resting for word in behaviour.words])
    return np.asarray(flags[behaviour.codes[keep]])
