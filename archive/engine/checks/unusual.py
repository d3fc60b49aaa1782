"""Numbers far from the others of their column: only to read, never to correct unseen."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from archive.engine.codes import found
from archive.engine.findings import Finding

FENCE = 3.0
LEAST = 12
SHOWN = 50


def far_values(
    table: str, name: str, rows: NDArray[np.int64], values: NDArray[np.float64]
) -> Iterator[Finding]:
    """Find values beyond the outer fences of their column.

    Parameters
    ----------
    table, name : str
    rows : ndarray of int64, shape (n,)
    values : ndarray of float64, shape (n,)
        NaN where the cell is empty.

    Notes
    -----
    The outer fences stand 3 interquartile ranges beyond the quartiles. Columns of fewer than 12
    values, or with equal quartiles, are passed. At most 50 are listed, and the last says how many
    more there are.

    References
    ----------
    Tukey, J. W. (1977). Exploratory Data Analysis, section 2D ("far out" values), from memory.
    """
    finite = np.isfinite(values)
    if finite.sum() < LEAST:
        return
    low, high = np.percentile(values[finite], [25, 75])
    reach = FENCE * (high - low)
    if reach <= 0:
        return
    far = np.flatnonzero(finite & ((values < low - reach) | (values > high + reach)))
    for count, at in enumerate(far[:SHOWN], start=1):
        row, value = int(rows[at]), float(values[at])
        message = (
            f"{value:g} in row {row:,}, column “{name}”, is far from the others: half of them lie"
            f" between {low:g} and {high:g}."
        )
        if count == SHOWN and len(far) > SHOWN:
            message = f"{message} {len(far) - SHOWN:,} more like it are not listed."
        yield found("unusual-value", message, table=table, row=row, field=name, value=f"{value:g}")
