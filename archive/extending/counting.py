"""Rows of a pool counted by what stands in some columns: time budgets, numbers per cohort.

Texts are counted by the codes that they are stored with, so that no text is made for a row.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from archive.extending.carrying import NOT_COLLECTED, SOURCE
from archive.extending.pooling import Pool

MOST_CELLS = 1 << 22
"""The largest table of counts that is laid out as a whole; beyond it, combinations are sorted."""

OF_ONE_COHORT = frozenset({SOURCE, NOT_COLLECTED})
"""Columns that say one thing in every row of a batch, since no batch is of two cohorts."""

type Codes = npt.NDArray[np.integer[Any]]


def counted(pool: Pool, by: Sequence[str]) -> pa.Table:
    """Count the rows of each combination.

    Parameters
    ----------
    pool : Pool
    by : sequence of str
        Names of the pool's columns.

    Returns
    -------
    pyarrow.Table
        One row for each combination that there is, in the order of first sight, with "count".
        What is missing counts as a value of its own, None.
    """
    total: dict[tuple[Any, ...], int] = {}
    for batch in pool.batches(by, encoded=True):
        parts = [_coded(batch.column(name), name in OF_ONE_COHORT) for name in by]
        codes, values = zip(*parts, strict=True)
        for cell, count in _cells(codes, [len(one) for one in values], batch.num_rows):
            key = tuple(one[at] for one, at in zip(values, cell, strict=True))
            total[key] = total.get(key, 0) + count
    columns = list(zip(*total, strict=True)) or [()] * len(by)
    types = {field.name: field.type for field in pool.schema}
    kinds = [_plain(types[name]) for name in by]
    arrays = [pa.array(values, kind) for values, kind in zip(columns, kinds, strict=True)]
    counts = pa.array(list(total.values()), pa.int64())
    return pa.table([*arrays, counts], names=[*by, "count"])


def time_budget(pool: Pool, animal: str, behaviour: str) -> pa.Table:
    """Give the share of each animal's records that each behaviour has.

    Parameters
    ----------
    pool : Pool
        Records taken at fixed moments: a share of them is a share of time.
    animal, behaviour : str
        Names of the columns. An animal is told by its code within its cohort.

    Returns
    -------
    pyarrow.Table
        `_source`, the animal, the behaviour, "count", and "share" from 0 to 1 of the animal's
        records with a behaviour; records without one are left out.

    References
    ----------
    Altmann 1974, Behaviour 49: 227-267, instantaneous and scan sampling.
    """
    table = counted(pool, [SOURCE, animal, behaviour])
    table = table.filter(pc.and_(pc.is_valid(table[animal]), pc.is_valid(table[behaviour])))
    whole: dict[tuple[Any, Any], int] = {}
    keys = list(zip(table[SOURCE].to_pylist(), table[animal].to_pylist(), strict=True))
    counts = table["count"].to_pylist()
    for key, count in zip(keys, counts, strict=True):
        whole[key] = whole.get(key, 0) + count
    shares = [count / whole[key] for key, count in zip(keys, counts, strict=True)]
    return table.append_column("share", pa.array(shares, pa.float64()))


def _plain(kind: pa.DataType) -> pa.DataType:
    return kind.value_type if pa.types.is_dictionary(kind) else kind


def _coded(column: pa.Array, is_one: bool) -> tuple[Codes | None, list[Any]]:
    """Give a column as codes, and what each code stands for; the last one for what is missing.

    A column that says one thing in every row has no codes: they would all be 0.
    """
    if is_one:
        return None, column.slice(0, 1).to_pylist()
    if not pa.types.is_dictionary(column.type):
        column = column.dictionary_encode()
    values = column.dictionary.to_pylist()
    codes = pc.fill_null(column.indices, len(values)) if column.null_count else column.indices
    return codes.to_numpy(zero_copy_only=False), [*values, None]


def _cells(
    codes: Sequence[Codes | None], sizes: Sequence[int], rows: int
) -> list[tuple[list[int], int]]:
    """Count each combination of codes that there is."""
    folded: Codes | None = None
    for one, size in zip(codes, sizes, strict=True):
        if one is None:
            continue
        if folded is None:
            folded = one.astype(np.int64)
        else:
            folded *= size
            folded += one
    if folded is None:
        return [([0] * len(sizes), rows)]
    if np.prod(np.array(sizes, dtype=float)) <= MOST_CELLS:
        laid_out = np.bincount(folded)
        there = np.flatnonzero(laid_out)
        counts = laid_out[there]
    else:
        there, counts = np.unique(folded, return_counts=True)
    parts = np.unravel_index(there, tuple(sizes))
    cells = np.stack(parts, axis=1).tolist()
    return list(zip(cells, counts.tolist(), strict=True))
