"""The one line in which a case says what it measured."""

import json
import sys
from collections.abc import Sequence


def say(case: str, ours: float, other: float, unit: str) -> None:
    """Print one JSON line: ours, the other side, and ours over the other."""
    ratio = round(ours / other, 4) if other else None
    measured = {
        "case": case,
        "ours": round(ours, 3),
        "other": round(other, 3),
        "unit": unit,
        "ratio": ratio,
    }
    print(json.dumps(measured), flush=True)


def note(said: str) -> None:
    """Say something to whoever waits, beside the lines."""
    print(said, file=sys.stderr, flush=True)


def share(values: Sequence[float], part: float) -> float:
    """Give the value below which such a part of the values lies, by the nearest rank."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, max(0, round(part * len(ordered)) - 1))]
