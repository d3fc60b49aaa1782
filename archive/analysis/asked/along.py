"""What goes with visitors, noise or any other covariate, session by session."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy import special

from archive.analysis.asked.found import Cell, Choice, Comparison, Found, Table
from archive.analysis.asked.frame import Frame
from archive.analysis.asked.kinds import Request
from archive.analysis.asked.watches import sessions_of
from archive.analysis.behaviour.noise import mean_levels
from archive.analysis.behaviour.recorded import SCANS, Recorded
from archive.analysis.behaviour.scans import OUT_OF_SIGHT
from archive.analysis.columns import Flags, rows_of
from archive.analysis.comparing.covariates import Along, along
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from registry.design import bounds
from registry.design.recording import Summary

SOUND = {"air", "water"}
PLAIN = ""
"""Medium of a covariate that is no sound."""
STRANGE = "?"


@dataclass(frozen=True, slots=True, eq=False)
class Sessions:
    """One value of outcome and covariate for each session of an animal.

    Parameters
    ----------
    animal, session : list of str
    outcome, covariate : ndarray of float, shape (sessions of an animal,)
    """

    animal: list[str]
    session: list[str]
    outcome: Numbers
    covariate: Numbers

    @property
    def is_shared(self) -> bool:
        """Whether animals that shared a session had the same covariate in it."""
        held: dict[str, set[float]] = {}
        for name, value in zip(self.session, self.covariate.tolist(), strict=True):
            held.setdefault(name, set()).add(round(value, 9))
        is_one = all(len(one) == 1 for one in held.values())
        return is_one and len(held) < len(self.session)

    def over_animals(self) -> tuple[Numbers, Numbers]:
        """Give outcome and covariate of each session, mean over the animals in it.

        The level of each animal is taken off first: not every animal is in every session.
        """
        own = rows_of(self.animal)
        level = np.zeros(len(self.outcome))
        for rows in own.values():
            level[rows] = self.outcome[rows].mean()
        apart = self.outcome - level + self.outcome.mean()
        each = rows_of(self.session).values()
        return (
            np.array([apart[rows].mean() for rows in each]),
            np.array([self.covariate[rows].mean() for rows in each]),
        )


def covariate(frame: Frame, request: Request, facts: Mapping[str, Any]) -> Found:
    """Give how an outcome changes with a covariate over sessions, each animal once.

    Parameters
    ----------
    frame : Frame
    request : Request
        Slots covariate, animal, session; outcome, or behaviour where a target is named of it;
        medium, of levels of sound. Options target, the behaviour; unseen; sound: "air" or "water"
        where the covariate is a level of sound in decibels.
    facts : mapping
        `recorded`, the rules of the plan.

    Notes
    -----
    Where animals share a session and its covariate, whatever else happened in it touched all of
    them: sessions, not animals, are then what the covariate was given to, and stand first.
    """
    gaps: list[Gap] = []
    values, keep, said = _outcome(frame, request, facts)
    of = frame.numbers(request.column("covariate"))
    medium = _medium(frame, request, len(of), gaps)
    animal = frame.animals(request.column("animal"), gaps)
    session = sessions_of(frame, request, len(of))
    keep &= animal.known & session.known
    tables: list[Table] = []
    tests: list[Comparison] = []
    told: list[str] = []
    for one in sorted({*medium} - {STRANGE}):
        here = keep & np.array([name == one for name in medium], dtype=bool)
        rows = _by_session(animal.codes, session.codes, values, of, here, medium=one)
        if rows is None:
            gaps.append(Gap(f"Nothing can be said of sound in {one}.", "No row has a level of it."))
            continue
        names = [animal.words[code] for code in rows[0]], [session.words[c] for c in rows[1]]
        held = Sessions(*names, rows[2], rows[3])
        label = f" in {one}" if one else ""
        found = along(held.outcome, held.covariate, held.animal)
        gaps += [Gap(f"{gap.what[:-1]}{label}." if one else gap.what, gap.why)
                 for gap in found.gaps]  # fmt: skip
        tables += [_points(held, said, request, label, one), _slopes(found, label, one)]
        tests += _tests(found, held, f"{said} by {request.column('covariate')}{label}", gaps)
    if not tables:
        bounds.refuse(
            "covariate", "Nothing can be computed.",
            "No row has an animal, a session, an outcome and the covariate.",
            "Name the columns that hold them.",
        )  # fmt: skip
    told += [one.said for one in tests if one.place == "chosen"]
    gaps.append(
        Gap(
            "It says what goes together, not what makes what.",
            "Visitors come on sunny days, and so does warmth.",
        )
    )
    return Found(tuple(told), tuple(tables), tuple(tests), _choice(tests), tuple(gaps))


def _choice(tests: Sequence[Comparison]) -> Choice | None:
    """Say which units the first test counts; None where nothing could be tested."""
    first = next((one for one in tests if one.place == "chosen"), None)
    if first is None:
        return None
    over = first.name == "sessions_t"
    return Choice(
        first.name,
        first.name,
        (
            "Animals shared their sessions and what changed in them, so that a session counts once."
            if over
            else "Each animal had sessions of its own, and counts once.",
        ),
        (
            "The outcome goes along a straight line with what changed beside it.",
            "Sessions do not influence each other."
            if over
            else "Animals do not influence each other.",
        ),
        None,
    )


def _outcome(
    frame: Frame, request: Request, facts: Mapping[str, Any]
) -> tuple[Numbers, Flags, str]:
    """Give the outcome of each row, which rows have one, and what it is."""
    target = str(request.options.get("target") or "")
    # A behaviour that somebody named is what is asked, whatever else the dictionary proposed.
    by_behaviour = bool(target and request.column("behaviour"))
    if request.column("outcome") and not by_behaviour:
        values = frame.numbers(request.column("outcome"))
        return values, np.isfinite(values), request.column("outcome")
    if not by_behaviour:
        bounds.refuse(
            "behaviour", "Nothing can be held against the covariate.",
            "Neither a number was named, nor a behaviour with the code that is asked about.",
            "Name the outcome, or the column of behaviours and one of its codes.",
        )  # fmt: skip
    rules = facts.get("recorded") or []
    (Recorded(*rules) if any(rules) else SCANS).must_give(Summary.SHARE_OF_POINTS)
    behaviour = frame.words(request.column("behaviour"))
    if behaviour.place(target) < 0:
        bounds.refuse(
            "target", f"“{target[:60]}” was never seen.",
            f"The column holds {', '.join(behaviour.words[:12])}.", "Name one of its codes.",
        )  # fmt: skip
    unseen = frozenset(request.options.get("unseen") or ()) | OUT_OF_SIGHT
    hidden = np.array([*(word in unseen for word in behaviour.words), True])
    is_it = (behaviour.codes == behaviour.place(target)).astype(float)
    return is_it, ~hidden[behaviour.codes], f"share of “{target}”"


def _medium(frame: Frame, request: Request, rows: int, gaps: list[Gap]) -> list[str]:
    """Give the medium of each row; "" of a covariate that is no sound."""
    said = str(request.options.get("sound") or "")
    if not request.column("medium"):
        return [said if said in SOUND else PLAIN] * rows
    found = [name.lower() for name in frame.named(request.column("medium"))]
    strange = sum(one not in SOUND for one in found)
    if strange:
        gaps.append(Gap(f"{strange} rows are left out.", "Their medium is neither air nor water."))
    if not SOUND & set(found):
        bounds.refuse(
            "medium", "Levels of sound need their medium.", "No row says air or water.",
            "Name the column that does: the same number means quite another sound in each.",
        )  # fmt: skip
    if set(found) >= SOUND:
        gaps.append(
            Gap(
                "Levels in air and in water are not put together.",
                "The same number means quite another sound in each.",
            )
        )
    return [one if one in SOUND else STRANGE for one in found]


type _Rows = tuple[list[int], list[int], Numbers, Numbers]


def _by_session(
    animal: np.ndarray, session: np.ndarray, values: Numbers, of: Numbers, here: Flags, medium: str
) -> _Rows | None:
    """Average each session of an animal: a covariate plainly, levels of sound by their energy."""
    here = here & np.isfinite(of)
    if not here.any():
        return None
    wide = int(session.max()) + 1
    each, where = np.unique(animal[here].astype(np.int64) * wide + session[here],
                            return_inverse=True)  # fmt: skip
    sizes = np.bincount(where)
    level = np.bincount(where, of[here]) / sizes
    if medium:
        level = mean_levels(of[here], where)
    outcome = np.bincount(where, values[here]) / sizes
    return [int(one) // wide for one in each], [int(one) % wide for one in each], outcome, level


def _points(held: Sessions, said: str, request: Request, label: str, medium: str) -> Table:
    name = request.column("covariate")
    how = ", mean level by energy" if medium else ", mean"
    rows: list[tuple[Cell, ...]] = [
        (f"{animal}, {session}", float(y), float(x))
        for animal, session, y, x in zip(held.animal, held.session, held.outcome, held.covariate,
                                         strict=True)
    ]  # fmt: skip
    heads = ("animal and session", said, f"{name}{how}")
    return Table(_named("sessions", medium), f"Each session of an animal{label}", heads,
                 tuple(rows))  # fmt: skip


def _slopes(found: Along, label: str, medium: str) -> Table:
    title = f"Change of the outcome for one unit of the covariate{label}, by animal"
    return Table(_named("slopes", medium), title, ("animal", "slope"), found.by_animal)


def _named(name: str, medium: str) -> str:
    return f"{name}_{medium}" if medium else name


def _tests(found: Along, held: Sessions, compared: str, gaps: list[Gap]) -> list[Comparison]:
    slope = found.slope
    tests = []
    if slope.n:
        tests.append(
            Comparison(
                "slopes_t", "t test of slopes over animals", "chosen", compared,
                slope.mean, slope.low, slope.high, "for one unit of the covariate",
                (("animals", float(slope.n)),), found.p,
            )
        )  # fmt: skip
    if slope.n == 1:
        gaps.append(Gap("No interval over animals.", "There is but one animal with a slope."))
    if not held.is_shared:
        return tests
    gaps.append(
        Gap(
            "Sessions are what counts here, and stand first.",
            "Animals shared each session and its covariate, so what else happened in it touched "
            "all of them; slopes of animals stand beside.",
        )
    )
    line = line_over(held)
    if line is None:
        gaps.append(Gap("No slope over sessions.", "There are fewer than three, or the covariate "
                        "did not change."))  # fmt: skip
        return tests
    effect, half, df, p = line
    by_session = Comparison(
        "sessions_t", "t test of the line over sessions", "chosen", compared,
        effect, effect - half, effect + half, "for one unit of the covariate",
        (("sessions", df + 2), ("df", df)), p,
    )  # fmt: skip
    return [by_session, *(replace(one, place="beside") for one in tests)]


def line_over(held: Sessions) -> tuple[float, float, float, float | None] | None:
    """Give the slope over sessions that animals shared, half its interval, df and p.

    None of fewer than three sessions, and where the covariate did not change.
    """
    y, x = held.over_animals()
    n, apart = len(y), x - x.mean()
    sxx = float(apart @ apart)
    if n < 3 or sxx <= 0:
        return None
    slope = float(apart @ y) / sxx
    left = y - y.mean() - slope * apart
    error = float((left @ left) / (n - 2) / sxx) ** 0.5
    p = 2 * float(special.stdtr(n - 2, -abs(slope / error))) if error > 0 else None
    return slope, float(special.stdtrit(n - 2, 0.975)) * error, float(n - 2), p
