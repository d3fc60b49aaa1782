"""Rules applied to a table, whole columns at a time.

What is empty stays empty. A value that a rule does not cover is refused by name, never dropped.
"""

import ast
from collections.abc import Callable, Iterable
from decimal import Context, Decimal
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from archive.extending.limits import some
from archive.extending.rules import Convert, Derive, Recode, Rename, Rule, Split, tree_of
from archive.extending.units import Conversion, conversion
from registry.errors import Unsound

WHAT = "The table was not carried over."
_EXACT = Context(prec=60)
_DIGITS = 15
"""Significant digits that survive the way to binary64 and back (IEEE 754-2019, 5.12.2)."""
_LEAST_SURE = 1e-8
"""Below it the power of ten by which digits are counted is no number of binary64 itself."""
_SUMS: dict[type[ast.operator], Callable[[Any, Any], Any]] = {
    ast.Add: pc.add,
    ast.Sub: pc.subtract,
    ast.Mult: pc.multiply,
    ast.Div: pc.divide,
}


def applied(rules: Iterable[Rule], table: pa.Table) -> pa.Table:
    """Apply rules to a table, in their order.

    Parameters
    ----------
    rules : iterable of Rule
    table : pyarrow.Table
        Any rows of the table: a rule looks at one row at a time.

    Raises
    ------
    Unsound
        When a column is not there, or a value is not covered.
    """
    for rule in rules:
        match rule:
            case Rename():
                table = _renamed(table, rule)
            case Convert():
                table = changed(table, rule.field, _converted(table, rule))
            case Recode():
                table = changed(table, rule.field, _recoded(table, rule))
            case Split():
                table = _split(table, rule)
            case Derive():
                table = _put(table, rule.into, _worked_out(table, rule))
    return table


def is_text(kind: pa.DataType) -> bool:
    """Say whether a column holds texts, as they are or by their codes."""
    return bool(pa.types.is_string(kind) or pa.types.is_dictionary(kind))


def column_of(table: pa.Table, name: str) -> pa.ChunkedArray:
    """Give a column by its name.

    Raises
    ------
    Unsound
        When it is not there.
    """
    if name not in table.column_names:
        raise Unsound(
            WHAT,
            f"It has no column “{name}”; it has {some(table.column_names)}.",
            "Name the column as it is called when the rule is reached.",
        )
    return table.column(name)


def changed(table: pa.Table, name: str, values: pa.ChunkedArray) -> pa.Table:
    """Put other values into a column that is there."""
    return table.set_column(table.column_names.index(name), name, values)


def _put(table: pa.Table, name: str, values: pa.ChunkedArray) -> pa.Table:
    if name in table.column_names:
        return changed(table, name, values)
    return table.append_column(name, values)


def _renamed(table: pa.Table, rule: Rename) -> pa.Table:
    column_of(table, rule.old)
    if rule.new == rule.old:
        return table  # it says that a column of another study is the one of that name here
    if rule.new in table.column_names:
        raise Unsound(
            WHAT, f"It has a column “{rule.new}” already.", "Rename or drop that one first."
        )
    return table.rename_columns({rule.old: rule.new})


# ------------------------------------------------------------------ units


def _converted(table: pa.Table, rule: Convert) -> pa.ChunkedArray:
    values, how = column_of(table, rule.field), conversion(rule.old, rule.new)
    if how.is_same:
        return values
    kind = values.type
    if is_text(kind) or pa.types.is_decimal(kind):
        return _each(values, lambda text: exactly(text, how, rule))
    if pa.types.is_integer(kind) and how.factor.denominator == how.offset.denominator == 1:
        try:
            whole = pc.multiply_checked(values, how.factor.numerator)
            return pc.add_checked(whole, how.offset.numerator)
        except pa.ArrowInvalid:
            return _each(pc.cast(values, pa.string()), lambda text: exactly(text, how, rule))
    # One rounding for the product and one for the quotient; both factors are whole numbers.
    product = pc.multiply(pc.cast(values, pa.float64()), float(how.factor.numerator))
    quotient = pc.divide(product, float(how.factor.denominator))
    moved = pc.add(quotient, float(how.offset)) if how.offset else quotient
    return pa.chunked_array([_digits_that_count(one) for one in moved.chunks], pa.float64())


def _digits_that_count(values: pa.Array) -> pa.Array:
    """Round to the 15 digits that a decimal number and binary64 surely share: 0.69 cm is 6.9 mm."""
    numbers = values.to_numpy(zero_copy_only=False)
    size = np.abs(numbers)
    is_sure = (size >= _LEAST_SURE) & (size < 10.0**_DIGITS)
    places = _DIGITS - 1 - np.floor(np.log10(np.where(is_sure, size, 1.0)))
    scale = 10.0**places
    # Both are whole numbers that binary64 holds, so that their quotient is the nearest to be had.
    rounded = np.where(is_sure, np.rint(numbers * scale) / scale, numbers)
    return pa.array(rounded, pa.float64(), mask=values.is_null().to_numpy(zero_copy_only=False))


def exactly(text: str, how: Conversion, rule: Convert) -> str:
    """Convert a number that stands as text, digit by digit.

    Raises
    ------
    Unsound
        When it is none.
    """
    try:
        value = Decimal(text)
        product = _EXACT.multiply(value, how.factor.numerator)
        whole = _EXACT.divide(product, how.factor.denominator)
        offset = _EXACT.divide(how.offset.numerator, how.offset.denominator)
        return format(_EXACT.add(whole, offset).normalize(_EXACT), "f")
    except ArithmeticError:
        why = f"“{text}” in “{rule.field}” is no number, so it is in no unit."
        raise Unsound(WHAT, why, "Recode it first, or leave the row as missing.") from None


def _each(values: pa.ChunkedArray, change: Callable[[str], str]) -> pa.ChunkedArray:
    """Change each different text once."""
    codes = encoded(values)
    texts = [None if text is None else change(str(text)) for text in codes.dictionary.to_pylist()]
    return pa.chunked_array([pa.array(texts, pa.string()).take(codes.indices)])


def encoded(values: pa.ChunkedArray) -> pa.DictionaryArray:
    """Give a column as codes with their dictionary, in one piece."""
    if pa.types.is_dictionary(values.type):
        values = pc.cast(values, values.type.value_type)
    codes = values.dictionary_encode().combine_chunks()
    if isinstance(codes, pa.ChunkedArray):
        codes = codes.chunk(0) if codes.num_chunks else values.dictionary_encode()
    return codes


# ------------------------------------------------------------------ codes, parts, sums


def _recoded(table: pa.Table, rule: Recode) -> pa.ChunkedArray:
    codes = dict(rule.codes)
    values = column_of(table, rule.field)
    if not is_text(values.type):
        values = pc.cast(values, pa.string())
    seen = [code for code in encoded(values).dictionary.to_pylist() if code is not None]
    if uncovered := sorted({code for code in seen if code not in codes}):
        raise Unsound(
            WHAT,
            f"“{rule.field}” holds {some(uncovered)}, which the rule has no code for.",
            "Say what becomes of each; a code that stays is written as itself.",
        )
    return _each(values, codes.__getitem__)


def _split(table: pa.Table, rule: Split) -> pa.Table:
    values = pc.cast(column_of(table, rule.field), pa.string())
    parts = pc.split_pattern(values, rule.at)
    wrong = pc.not_equal(pc.list_value_length(parts), len(rule.into))
    if pc.any(wrong).as_py():
        odd = pc.filter(values, pc.fill_null(wrong, False)).slice(0, 1)[0].as_py()
        raise Unsound(
            WHAT,
            f"“{odd}” in “{rule.field}” has not {len(rule.into)} parts at “{rule.at}”.",
            "Part it otherwise, or recode such values first.",
        )
    at = table.column_names.index(rule.field)
    table = table.remove_column(at)
    for number, name in enumerate(rule.into):
        if name in table.column_names:
            raise Unsound(WHAT, f"It has a column “{name}” already.", "Give the part another name.")
        table = table.add_column(at + number, name, pc.list_element(parts, number))
    return table


def _worked_out(table: pa.Table, rule: Derive) -> pa.ChunkedArray:
    with_gaps = sum_of(tree_of(rule.expression), table)
    values = (
        with_gaps
        if isinstance(with_gaps, pa.ChunkedArray)
        else pa.chunked_array([pa.repeat(with_gaps, table.num_rows)])
    )
    odd = pc.and_(pc.is_valid(values), pc.invert(pc.is_finite(pc.fill_null(values, 0.0))))
    if pc.any(odd).as_py():
        row = pc.index(odd, True).as_py()
        raise Unsound(
            WHAT,
            f"{rule.expression} gives no number in row {row + 1:,} of these (a division by 0?).",
            "Leave such rows as missing, or work it out otherwise.",
        )
    return values


def sum_of(node: ast.expr, table: pa.Table) -> Any:
    """Work an expression out, row by row; without a column it is one number.

    Raises
    ------
    Unsound
        When a column is not there, or holds a text that is no number.
    """
    match node:
        case ast.Name():
            values = column_of(table, node.id)
            try:
                return pc.cast(values, pa.float64())
            except (pa.ArrowInvalid, pa.ArrowNotImplementedError):
                why = f"“{node.id}” does not hold numbers alone."
                raise Unsound(WHAT, why, "Work with columns of numbers.") from None
        case ast.UnaryOp():
            return pc.negate(sum_of(node.operand, table))
        case ast.BinOp():
            return _SUMS[type(node.op)](sum_of(node.left, table), sum_of(node.right, table))
    assert isinstance(node, ast.Constant)
    return pa.scalar(float(str(node.value)), pa.float64())
