"""Suspected causes: why a table has the findings that it has, and what would mend it safely.

Each cause is one class that looks at a table's columns and findings, and says what it suspects.
"""

from archive.engine.causes.sheet import FaultsByTable
from archive.engine.causes.suspecting import suspect, told
from archive.engine.causes.suspicion import Cause, Suspicion

__all__ = ["Cause", "FaultsByTable", "Suspicion", "suspect", "told"]
