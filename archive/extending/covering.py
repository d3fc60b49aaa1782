"""Which rows hold a value that a rule does not cover: what is counted before rules are accepted."""

from collections.abc import Callable, Iterable

import pyarrow as pa
import pyarrow.compute as pc

from archive.extending.applying import changed, column_of, encoded, exactly, is_text, sum_of
from archive.extending.rules import (
    Convert,
    Derive,
    Recode,
    Rule,
    Split,
    columns_of,
    tree_of,
)
from archive.extending.units import conversion
from registry.errors import Unsound


def uncovered(rule: Rule, table: pa.Table) -> pa.ChunkedArray:
    """Say of each row whether it holds a value that a rule does not cover, and so refuses.

    Parameters
    ----------
    rule : Rule
    table : pyarrow.Table
        As the rules before left it.

    Raises
    ------
    Unsound
        When a column is not there.
    """
    match rule:
        case Convert():
            values, how = column_of(table, rule.field), conversion(rule.old, rule.new)
            if not is_text(values.type) and not pa.types.is_decimal(values.type):
                return _none(table)
            return _odd(values, lambda text: exactly(text, how, rule))
        case Recode():
            return _odd(column_of(table, rule.field), dict(rule.codes).__getitem__)
        case Split():
            parts = pc.split_pattern(pc.cast(column_of(table, rule.field), pa.string()), rule.at)
            return pc.fill_null(pc.not_equal(pc.list_value_length(parts), len(rule.into)), False)
        case Derive():
            return _odd_sums(table, rule)
    return _none(table)


def blanked(table: pa.Table, names: Iterable[str], odd: pa.ChunkedArray) -> pa.Table:
    """Take the values of some rows out of some columns."""
    for name in names:
        values = column_of(table, name)
        kept = pc.if_else(odd, pa.scalar(None, values.type), values)
        table = changed(table, name, kept)
    return table


def _odd_sums(table: pa.Table, rule: Derive) -> pa.ChunkedArray:
    names, odd = columns_of(rule.expression), _none(table)
    for name in names:
        if is_text(column_of(table, name).type):
            odd = pc.or_(odd, _odd(table.column(name), _as_number))
    values = sum_of(tree_of(rule.expression), blanked(table, names, odd))
    endless = pc.invert(pc.is_finite(pc.fill_null(values, 0.0)))
    return pc.or_(odd, endless) if isinstance(values, pa.ChunkedArray) else odd


def _as_number(text: str) -> pa.Scalar:
    return pa.scalar(text).cast(pa.float64())


def _none(table: pa.Table) -> pa.ChunkedArray:
    return pa.chunked_array([pa.repeat(pa.scalar(False), table.num_rows)])


def _odd(values: pa.ChunkedArray, change: Callable[[str], object]) -> pa.ChunkedArray:
    """Try each different text once."""
    codes = encoded(values if is_text(values.type) else pc.cast(values, pa.string()))
    is_odd = pa.array([_fails(change, text) for text in codes.dictionary.to_pylist()], pa.bool_())
    return pa.chunked_array([pc.fill_null(is_odd.take(codes.indices), False)])


def _fails(change: Callable[[str], object], text: str | None) -> bool:
    if text is None:
        return False
    try:
        change(text)
    except (Unsound, KeyError, pa.ArrowInvalid):
        return True
    return False
