"""Safe corrections: rules that mend a table without guessing, and that can be repeated.

A correction is a frozen dataclass that reads from JSON and writes to it. It makes new bytes and
never touches those it read; it is refused at the first cell that could mean two things.
"""

from archive.engine.corrections.correction import Correction
from archive.engine.corrections.mending import Change, Trial, correction_of, mended, try_out

__all__ = ["Change", "Correction", "Trial", "correction_of", "mended", "try_out"]
