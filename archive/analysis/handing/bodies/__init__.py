"""The parts of the programs that are handed over: reading, the sums of each kind, comparing.

A new kind of analysis gets its piece here: a text in the file that it belongs to, in numpy and
scipy alone, which reads with `read` and keeps each number with `keep` under the table, the row and
the heading by which it is recorded. Then it stands in `BODIES` with the parts that it leans on,
and in the cases of ``tests/archive/analysis/test_handing.py``.
"""

from archive.analysis.handing.bodies.behaviour import (
    BUDGET,
    ONE_ZERO,
    SEQUENCE,
    SHARED,
    SPACE,
    VARIED,
)
from archive.analysis.handing.bodies.closing import CLOSING, NOT_MADE
from archive.analysis.handing.bodies.cohorts import COHORTS
from archive.analysis.handing.bodies.drawing import CHANCE, DRAWING, REDRAWING
from archive.analysis.handing.bodies.observers import AGREEMENT, JACKKNIFE, MEASURED
from archive.analysis.handing.bodies.reading import OPENING, READING
from archive.analysis.handing.bodies.sessions import ALONG, REVERSAL
from archive.analysis.handing.bodies.testing import TESTING
from archive.analysis.handing.bodies.trials import (
    COMPARISON,
    CONDITION,
    FEEDING,
    GROWTH,
    HATCHING,
    SHARES,
    SURVIVAL,
)
from archive.analysis.handing.bodies.warming import RATES, RESPONSE, WARMTH
from archive.analysis.handing.bodies.watching import ACTED, BOUTS, INTERVAL

__all__ = ["BODIES", "CLOSING", "NOT_MADE", "NOT_YET", "OPENING", "READING"]

_TESTS = (DRAWING, REDRAWING, TESTING)

BODIES: dict[str, tuple[str, ...]] = {
    "budget": (CHANCE, SHARED, BUDGET),
    "one_zero": (CHANCE, SHARED, ONE_ZERO),
    "bouts": (CHANCE, SHARED, BOUTS, ACTED),
    "interval": (BOUTS, INTERVAL),
    "sequence": (VARIED, SEQUENCE),
    "space": (SPACE,),
    "comparison": (*_TESTS, SHARES, COMPARISON),
    "reversal": (DRAWING, TESTING, REVERSAL),
    "along": (ALONG,),
    "growth": (*_TESTS, GROWTH),
    "condition": (*_TESTS, CONDITION),
    "feeding": (*_TESTS, FEEDING),
    "warmth": (WARMTH,),
    "rates": (RATES,),
    "response": (RESPONSE,),
    "hatching": (*_TESTS, SHARES, HATCHING),
    "survival": (*_TESTS, SURVIVAL),
    "agreement": (JACKKNIFE, AGREEMENT),
    "measured": (JACKKNIFE, MEASURED),
    "cohorts": (DRAWING, TESTING, COHORTS),
}
"""The sums of each kind of analysis, in numpy and scipy alone, after what they lean on."""

NOT_YET: frozenset[str] = frozenset()
"""Kinds whose numbers no program makes again yet; the program that is handed over says so."""
