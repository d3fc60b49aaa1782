"""A result as plain values, and its digest: run again, it is the same."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from hashlib import sha256
from math import isfinite

import numpy as np

DIGITS = 10
"""Significant digits that are kept: beyond them machines may differ in the order of their sums."""

type Plain = bool | int | float | str | list["Plain"] | dict[str, "Plain"] | None


def plain(result: object) -> Plain:
    """Give a result as values that JSON holds.

    Parameters
    ----------
    result : object
        What an analysis gave: frozen results, tuples, mappings, arrays and numbers.

    Returns
    -------
    Plain
        Numbers with ten significant digits; NaN as None, infinities as text.

    Raises
    ------
    TypeError
        Where something else is in it.

    Examples
    --------
    >>> from archive.analysis.means import mean_of
    >>> plain(mean_of([1.0, 2.0]))["mean"], plain([float("nan"), float("inf")])
    (1.5, [None, 'inf'])
    """
    if is_dataclass(result) and not isinstance(result, type):
        return {one.name: plain(getattr(result, one.name)) for one in fields(result)}
    if isinstance(result, Enum):
        return plain(result.value)
    if result is None or isinstance(result, bool | str | int):
        return result
    if isinstance(result, np.generic | np.ndarray):
        return plain(result.tolist())
    if isinstance(result, float):
        if result != result:  # noqa: PLR0124 - NaN alone differs from itself
            return None
        return float(f"{result:.{DIGITS}g}") if isfinite(result) else str(result)
    if isinstance(result, Mapping):
        return {str(key): plain(value) for key, value in result.items()}
    if isinstance(result, Sequence):
        return [plain(one) for one in result]
    raise TypeError(f"a result holds {type(result).__name__}, which has no plain form")


def canonical(result: object) -> str:
    """Give a result as one line of JSON that is the same wherever it is made.

    Examples
    --------
    >>> canonical({"b": 0.1 + 0.2, "a": (1,)})
    '{"a":[1],"b":0.3}'
    """
    return json.dumps(
        plain(result), ensure_ascii=False, separators=(",", ":"), sort_keys=True, allow_nan=False
    )


def digest(result: object) -> str:
    """Give the SHA-256 of a result, in hexadecimal.

    Examples
    --------
    >>> digest({"p": 0.05})[:12]
    '8310e01e55b3'
    """
    return sha256(canonical(result).encode()).hexdigest()
