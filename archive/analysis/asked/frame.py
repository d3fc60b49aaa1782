"""The columns of one table as an analysis asks for them."""

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from archive.analysis.behaviour.scans import NOBODY
from archive.analysis.columns import Coded, Flags
from archive.analysis.gaps import Gap
from archive.analysis.means import Numbers
from archive.analysis.reading import read_coded, read_numbers
from registry.design import bounds

DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class Frame:
    """A table by its typed copy.

    Parameters
    ----------
    path : Path
        As `archive.extending.columns` keeps it.
    """

    path: Path

    def words(self, name: str) -> Coded:
        """Give a column as codes; any type is taken as its text."""
        return read_coded(self.path, [name])[0]

    def animals(self, name: str, gaps: list[Gap]) -> Coded:
        """Give a column of animals; where no row names one, all rows are taken together."""
        found = self.words(name)
        if found.known.any() or not len(found.codes):
            return found
        gaps.append(
            Gap(
                "Nothing can be said of animals, nor of how they differ.",
                "No row says which animal was seen; what is told is of all rows together.",
            )
        )
        return Coded(np.zeros_like(found.codes), (NOBODY,))

    def named(self, name: str) -> list[str]:
        """Give a column as one word for each row; "" where it is empty."""
        found = self.words(name)
        words = (*found.words, "")
        return [words[code] for code in found.codes]

    def numbers(self, name: str) -> Numbers:
        """Give a column of numbers; NaN where it is empty."""
        return read_numbers(self.path, [name])[0]

    def moments_d(self, name: str) -> Numbers:
        """Give a column of days or moments as days since 1970-01-01; NaN where it is empty."""
        column = pq.read_table(self.path, columns=[name]).column(name)
        if pa.types.is_string(column.type):
            # A moment with an offset is kept as it was written; its own clock is what counts here.
            with suppress(pa.ArrowInvalid):
                column = pc.cast(pc.utf8_slice_codeunits(column, 0, 19), pa.timestamp("ms"))
        if pa.types.is_date32(column.type):
            whole = pc.cast(pc.cast(column, pa.int32()), pa.float64())
            return np.asarray(whole.to_numpy(zero_copy_only=False), dtype=float)
        if pa.types.is_timestamp(column.type):
            steps = pc.cast(pc.cast(column, pa.timestamp("ms")), pa.int64())
            whole = pc.cast(steps, pa.float64()).to_numpy(zero_copy_only=False)
            return np.asarray(whole / DAY_MS, dtype=float)
        return bounds.refuse(
            "time",
            f"“{name}” holds no days.",
            "Some cell of it is none.",
            "Name a column of days or of moments.",
        )

    def is_clock(self, name: str) -> bool:
        """Say whether a column holds moments, and no numbers."""
        kind = pq.read_schema(self.path).field(name).type
        return not (pa.types.is_integer(kind) or pa.types.is_floating(kind))

    def seconds(self, name: str) -> Numbers:
        """Give a column of moments, or of seconds, as seconds; NaN where it is empty."""
        if not self.is_clock(name):
            return self.numbers(name)
        return np.asarray(np.rint(self.moments_d(name) * DAY_MS) / 1000, dtype=float)

    def ranks(self, name: str) -> Numbers:
        """Give the order of rows by a column: of moments, of numbers, or of words by their text."""
        kind = pq.read_schema(self.path).field(name).type
        if pa.types.is_integer(kind) or pa.types.is_floating(kind):
            return self.numbers(name)
        found = self.words(name)
        # Days and moments are written largest part first, so their text has their order.
        place = {word: at for at, word in enumerate(sorted(found.words))}
        return np.array([*(float(place[one]) for one in found.words), np.nan])[found.codes]

    def flags(self, name: str, of: Numbers) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Give whether something happened: true, yes, 1; without a column, where `of` is known."""
        if not name:
            return np.isfinite(of)
        said = [one.lower() for one in self.named(name)]
        return np.array([one in {"true", "yes", "y", "1", "1.0"} for one in said], dtype=bool)


def leave_out(kept: Flags, why: str, gaps: list[Gap]) -> None:
    """Tell of the rows that are not kept, where there are any."""
    if not kept.all():
        gaps.append(Gap(f"{int((~kept).sum())} rows are left out.", why))
