"""Columns of an accepted table, read from its typed copy as numbers, whatever their length."""

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from archive.analysis.behaviour.scans import OUT_OF_SIGHT, Scans
from archive.analysis.columns import Coded, Codes
from archive.analysis.gaps import few_named
from archive.analysis.means import Numbers
from registry.design import bounds


def read_coded(path: Path, names: Sequence[str]) -> tuple[Coded, ...]:
    """Read columns of codes: animals, sessions, behaviours, zones.

    Parameters
    ----------
    path : Path
        Typed columns as `archive.extending.columns` keeps them beside the table.
    names : sequence of str

    Returns
    -------
    tuple of Coded
        In the order of the names.

    Raises
    ------
    Unsound
        Where a column is not there.

    Notes
    -----
    The file holds each different word once for every group of rows, so no word is made of a cell.

    References
    ----------
    Apache Parquet format 2, dictionary encoding.
    """
    _all_there(path, names)
    table = pq.read_table(path, columns=list(names), read_dictionary=list(names))
    return tuple(_coded(table.column(name)) for name in names)


def read_scans(
    path: Path,
    animal: str,
    session: str,
    behaviour: str,
    *,
    out_of_sight: Collection[str] = OUT_OF_SIGHT,
    known: Collection[str] | None = None,
) -> Iterator[Scans]:
    """Read scans a piece at a time, for `time_budget`: memory does not grow with the table.

    Parameters
    ----------
    path : Path
    animal, session, behaviour : str
        Names of columns.
    out_of_sight, known
        As in `Scans`.

    Yields
    ------
    Scans
        One for each group of rows of the file.
    """
    names = (animal, session, behaviour)
    _all_there(path, names)
    with pq.ParquetFile(path, read_dictionary=list(names), memory_map=True) as file:
        for group in range(file.num_row_groups):
            table = file.read_row_group(group, columns=list(names), use_threads=False)
            found = [_coded(table.column(one)) for one in names]
            yield Scans(found[0], found[1], found[2], out_of_sight, known)


def read_numbers(path: Path, names: Sequence[str]) -> tuple[Numbers, ...]:
    """Read columns of numbers; an empty cell is NaN.

    Parameters
    ----------
    path, names
        As in `read_coded`.

    Raises
    ------
    Unsound
        Where a column is not there, or holds no numbers.
    """
    _all_there(path, names)
    table = pq.read_table(path, columns=list(names))
    found = []
    for name in names:
        column = table.column(name)
        if not (pa.types.is_integer(column.type) or pa.types.is_floating(column.type)):
            bounds.refuse(
                "column",
                f"“{name}” holds no numbers.",
                "Some cell of it is none, or the dictionary calls it a text.",
                "Name a column of numbers.",
            )
        values = pc.cast(column, pa.float64()).to_numpy(zero_copy_only=False)
        found.append(np.asarray(values, dtype=float))
    return tuple(found)


def _all_there(path: Path, names: Sequence[str]) -> None:
    there = pq.read_schema(path).names
    lost = [name for name in names if name not in there]
    if lost:
        bounds.refuse(
            "column",
            f"The table has no column {few_named(lost)}.",
            f"It has {few_named(there, most=20)}.",
            "Name one of these.",
        )


def _coded(column: Any) -> Coded:
    if not pa.types.is_dictionary(column.type):
        column = pc.dictionary_encode(column)
    if not column.num_chunks:  # a table without rows
        return Coded(np.zeros(0, dtype=np.int32), ())
    whole = column.chunk(0)
    if column.num_chunks > 1:
        whole = column.unify_dictionaries().combine_chunks()
    indices = pc.fill_null(whole.indices, -1) if whole.null_count else whole.indices
    codes = indices.to_numpy(zero_copy_only=False).astype(np.int32, copy=False)
    return _merged(codes, ["" if one is None else str(one) for one in whole.dictionary.to_pylist()])


def _merged(codes: Codes, words: Sequence[str]) -> Coded:
    """Take words that differ in outer spaces alone as one, and an empty one as none."""
    places: dict[str, int] = {}
    place = [places.setdefault(w.strip(), len(places)) if w.strip() else -1 for w in words]
    if place == list(range(len(words))):
        return Coded(codes, tuple(places))
    return Coded(np.array([*place, -1], dtype=np.int32)[codes], tuple(places))
