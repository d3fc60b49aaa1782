"""The gate: which observers may deposit data by which version of an ethogram."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from registry.design import bounds

if TYPE_CHECKING:  # pages ask the gate, and load no numbers for it
    from archive.analysis.reliability.pairs import Agreement


@dataclass(frozen=True, slots=True)
class Gate:
    """What an observer must reach.

    Parameters
    ----------
    least_same : float, default 0.85
        Share of moments coded as the standard did, 0 to 1.
    least_kappa : float, default 0.8
        0 to 1.
    least_covered : float, default 0
        Share of the ethogram that the test must have shown, 0 to 1.
    by_lower_bound : bool, default False
        Whether the lower end of kappa's interval must reach it.
    days : int or None, default None
        Days for which a pass stands; None without end.

    Notes
    -----
    Kappa .80 to .85, or 85 to 90 per cent, are usual marks of houses (from memory).
    """

    least_same: float = 0.85
    least_kappa: float = 0.8
    least_covered: float = 0.0
    by_lower_bound: bool = False
    days: int | None = None

    def __post_init__(self) -> None:
        for field in ("least_same", "least_kappa", "least_covered"):
            bounds.between(field, getattr(self, field), 0, 1, "mark of the gate", ends=True)


@dataclass(frozen=True, slots=True)
class Reached:
    """What a test reached, by its numbers alone, as a register keeps them.

    Parameters
    ----------
    same : float
        Share of moments coded alike, 0 to 1.
    kappa, kappa_low : float or None
    seen, of : int
        Behaviours that the test showed, and those of the ethogram.
    """

    same: float
    kappa: float | None
    kappa_low: float | None
    seen: int
    of: int


@dataclass(frozen=True, slots=True)
class Sitting:
    """One test that an observer sat.

    Parameters
    ----------
    observer, ethogram : str
        The ethogram with its version.
    on : date
    agreement : Agreement or Reached
        With the standard coding.
    """

    observer: str
    ethogram: str
    on: date
    agreement: "Agreement | Reached"


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether an observer stands behind the gate, and why not.

    Parameters
    ----------
    is_passed : bool
    reasons : tuple of str
        A sentence each; empty where passed.
    until : date or None
        Last day of the pass.
    """

    is_passed: bool
    reasons: tuple[str, ...]
    until: date | None = None


def judged(gate: Gate, found: "Agreement | Reached") -> tuple[str, ...]:
    """Give each mark that a test did not reach, in a sentence; empty where it reached all."""
    reached = found if isinstance(found, Reached) else _reached(found)
    reasons = []
    if reached.same < gate.least_same:
        reasons.append(
            f"{100 * reached.same:.0f} per cent were coded alike; "
            f"{100 * gate.least_same:.0f} are asked."
        )
    if reached.kappa is None:
        reasons.append("Kappa cannot be computed: the test showed one behaviour alone.")
    else:
        value = reached.kappa_low if gate.by_lower_bound else reached.kappa
        which = "lower bound of kappa" if gate.by_lower_bound else "kappa"
        if value is None:
            reasons.append("Kappa has no lower bound: the test is of one session alone.")
        elif value < gate.least_kappa:
            reasons.append(f"The {which} is {value:.2f}; {gate.least_kappa:.2f} is asked.")
    if reached.seen < gate.least_covered * reached.of:
        reasons.append(
            f"The test showed {reached.seen} of {reached.of} behaviours; "
            f"{100 * gate.least_covered:.0f} per cent of them are asked."
        )
    return tuple(reasons)


def _reached(found: "Agreement") -> Reached:
    kappa = found.kappa
    return Reached(
        found.same.value,
        None if kappa is None else kappa.value,
        None if kappa is None else kappa.low,
        found.covered.seen,
        found.covered.of,
    )


def stands(
    gate: Gate, sittings: Iterable[Sitting], *, observer: str, ethogram: str, on: date
) -> Verdict:
    """Say whether an observer may deposit what was coded on a day by a version of an ethogram.

    Parameters
    ----------
    gate : Gate
    sittings : iterable of Sitting
        Of anybody and any version; another version's do not count.
    observer, ethogram : str
    on : date
        Day of the observations: the newest sitting up to it decides, so that a later pass does not
        bless what was coded before.

    Examples
    --------
    >>> stands(Gate(), [], observer="K1", ethogram="rays 2", on=date(2026, 3, 1)).reasons
    ('K1 has sat no test of “rays 2” up to 2026-03-01.',)
    """
    own = [
        one
        for one in sittings
        if one.observer == observer and one.ethogram == ethogram and one.on <= on
    ]
    if not own:
        return Verdict(False, (f"{observer} has sat no test of “{ethogram}” up to {on}.",))
    newest = max(own, key=lambda one: one.on)
    until = None if gate.days is None else newest.on + timedelta(days=gate.days)
    reasons = judged(gate, newest.agreement)
    if until is not None and on > until:
        reasons = (*reasons, f"The newest test is of {newest.on}, and its pass ended on {until}.")
    return Verdict(not reasons, reasons, until)


def passes(
    gate: Gate, sittings: Iterable[Sitting], *, observer: str, ethogram: str
) -> tuple[tuple[date, date | None], ...]:
    """Give the spans of days on which an observer stands behind the gate; None is without end.

    Parameters
    ----------
    gate, sittings, observer, ethogram
        As in `stands`, which says the same of one day.

    Examples
    --------
    >>> sat = Sitting("K1", "rays 2", date(2026, 3, 1), Reached(0.9, 0.85, None, 4, 4))
    >>> passes(Gate(days=10), [sat], observer="K1", ethogram="rays 2")
    ((datetime.date(2026, 3, 1), datetime.date(2026, 3, 11)),)
    """
    own = [one for one in sittings if one.observer == observer and one.ethogram == ethogram]
    begun = sorted({one.on for one in own})
    found = []
    for on, following in zip(begun, [*begun[1:], None], strict=False):
        verdict = stands(gate, own, observer=observer, ethogram=ethogram, on=on)
        if verdict.is_passed:
            ends = [verdict.until, following - timedelta(days=1) if following else None]
            found.append((on, min((one for one in ends if one), default=None)))
    return tuple(found)
