"""What follows what, asked of a table of scans or of bouts."""

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from archive.analysis.asked.budget import varied
from archive.analysis.asked.found import Cell, Found, Table
from archive.analysis.asked.frame import Frame, leave_out
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.watches import sessions_of
from archive.analysis.behaviour.scans import OUT_OF_SIGHT
from archive.analysis.behaviour.transitions import Transitions, counted, transitions
from archive.analysis.columns import Coded
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds

MORE = 0.001
"""Transitions above what is expected that count as more: below it lies what rounding makes."""
STANDS_OUT = 3.0
"""Adjusted residual beyond which a transition is named (Bakeman and Quera 2011, from memory)."""


def sequence(frame: Frame, request: Request, facts: Mapping[str, Any]) -> Found:
    """Give how often each behaviour followed each, against chance, and in how many animals.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots animal, behaviour, session, begin; options unseen, and repeats, whether a behaviour
        may follow itself: left out, as the plan's rule of recording has it.
    facts : mapping
        `recorded`, the rules of the plan.
    """
    gaps: list[Gap] = []
    sampling, recording = [*(facts.get("recorded") or []), "", ""][:2]
    if sampling == "ad_libitum" or recording == "one_zero":
        bounds.refuse(
            "recording",
            "What follows what cannot be computed from these data.",
            "Ad libitum notes leave out what did not catch the eye."
            if sampling == "ad_libitum"
            else "One-zero recording does not say in which order things happened in an interval.",
            "Record scans at set moments, or bouts with their beginning.",
        )
    given = request.options.get("repeats")
    repeats = bool(given) if given is not None else recording == "instantaneous"
    animals, rows, names = _runs(frame, request, gaps)
    own_runs: dict[str, list[Sequence[str]]] = {}
    for own, run in zip(animals, rows, strict=True):
        own_runs.setdefault(own, []).append(run)
    by_animal = [counted(one, names, repeats=repeats) for one in own_runs.values()]
    if not by_animal:
        bounds.refuse(
            "behaviour", "What follows what cannot be computed.",
            "No row has an animal, a session, a behaviour and a time.",
            "Name the columns that hold them.",
        )  # fmt: skip
    whole = transitions(np.sum(by_animal, axis=0), names, repeats=repeats)
    gaps += whole.gaps
    gaps.append(
        Gap(
            "The residuals describe, they do not test.",
            "Transitions of one animal are not independent of each other: see in how many animals "
            "each was more often than chance has it.",
        )
    )
    if not repeats:
        gaps.append(
            Gap("A behaviour that follows itself counts as one bout.", "Repeats were joined.")
        )
    shown = _steps(whole, by_animal, names, repeats=repeats)
    told = ("all transitions", sum(one.seen for one in whole.steps), whole.chi2, whole.df, whole.p)
    table = Table(
        "independence", "Does what follows depend on what went before",
        ("transitions", "number", "χ²", "df", "p as if independent"),
        ((*told[:4], None if np.isnan(whole.p) else whole.p),),
    )  # fmt: skip
    spent = [Counter(name for run in one for name in run) for one in own_runs.values()]
    amounts = np.array([[one[name] for name in names] for one in spent], dtype=float)
    return Found(
        _said(whole, len(spent)), (shown, table, varied([*own_runs], amounts)), gaps=tuple(gaps)
    )


def _runs(
    frame: Frame, request: Request, gaps: list[Gap]
) -> tuple[list[str], list[Sequence[str]], tuple[str, ...]]:
    """Give the behaviours of each session of an animal in order of time, and their names."""
    animal = frame.animals(request.column("animal"), gaps)
    behaviour = frame.words(request.column("behaviour"))
    session = sessions_of(frame, request, len(animal.codes))
    hides = frozenset(request.options.get("unseen") or ()) | OUT_OF_SIGHT
    names = tuple(sorted(word for word in behaviour.words if word not in hides))
    when = np.arange(len(animal.codes), dtype=float)
    if request.column("begin"):
        when = frame.seconds(request.column("begin"))
    else:
        gaps.append(
            Gap("Rows are taken in the order of the table.", "No column says when they were.")
        )
    keep = animal.known & session.known & behaviour.known & np.isfinite(when)
    leave_out(keep, "They lack an animal, a session, a behaviour or a time.", gaps)
    order = np.lexsort((when, session.codes, animal.codes))
    order = order[keep[order]]
    _at_once(animal, session, when, order, gaps)
    pair = np.stack([animal.codes[order], session.codes[order]])
    breaks = np.flatnonzero((np.diff(pair, axis=1) != 0).any(axis=0)) + 1
    runs = np.split(order, breaks) if len(order) else []
    words = np.array([*behaviour.words, ""])
    return (
        [animal.words[animal.codes[run[0]]] for run in runs],
        [words[behaviour.codes[run]].tolist() for run in runs],
        names,
    )


def _at_once(
    animal: Coded, session: Coded, when: Numbers, order: np.ndarray, gaps: list[Gap]
) -> None:
    same = (np.diff(animal.codes[order]) == 0) & (np.diff(session.codes[order]) == 0)
    tied = int((same & (np.diff(when[order]) == 0)).sum())
    if tied:
        gaps.append(
            Gap(
                f"{tied} rows have the moment of the row before them.",
                "Of these the order of the table is taken.",
            )
        )


def _steps(
    whole: Transitions, by_animal: Sequence[Numbers], names: Sequence[str], *, repeats: bool
) -> Table:
    """Lay the transitions, the strongest first, with the animals that bear them out."""
    more = np.zeros((len(names), len(names)), dtype=int)
    could = np.zeros_like(more)
    for table in by_animal:
        if table.sum() <= 0:
            continue
        own = transitions(table, names, repeats=repeats)
        for one in own.steps:
            place = names.index(one.first), names.index(one.then)
            could[place] += one.expected > 0
            more[place] += one.expected > 0 and one.seen - one.expected > MORE
    rows: list[tuple[Cell, ...]] = []
    for one in sorted(whole.steps, key=lambda step: -np.nan_to_num(step.residual, nan=-99.0)):
        place = names.index(one.first), names.index(one.then)
        residual = None if np.isnan(one.residual) else one.residual
        cells = (one.seen, one.expected, residual, int(more[place]), int(could[place]))
        rows.append((f"{one.first} → {one.then}", *cells))
    heads = (
        "what then what", "seen", "expected", "adjusted residual", "animals with more",
        "of animals that did both",
    )  # fmt: skip
    return Table("steps", "What followed what", heads, tuple(rows))


def _said(whole: Transitions, animals: int) -> tuple[str, ...]:
    known = [one for one in whole.steps if not np.isnan(one.residual)]
    often = [one for one in known if one.residual >= STANDS_OUT]
    said = [f"{sum(one.seen for one in whole.steps)} transitions of {animals} animals."]
    if often:
        top = max(often, key=lambda one: one.residual)
        said.append(
            f"“{top.then}” followed “{top.first}” more often than chance has it: {top.seen} times, "
            f"{top.expected:.1f} expected."
        )
    else:
        said.append("No transition stands out from chance.")
    return tuple(said)
