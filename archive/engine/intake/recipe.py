"""A recipe: the confirmed decisions of one conversion, to be repeated and to be read."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from registry.errors import Unsound

VERSION = 1
_DATES = {
    "dmy": "reads its dates with the day first",
    "mdy": "reads its dates with the month first",
    "ymd": "reads dates that have the year first or the month in words",
}
_SERIAL = {
    "serial-1900": "reads its numbers as days counted from 1900",
    "serial-1904": "reads its numbers as days counted from 1904",
}
_DECIMAL = {
    "comma": "reads a comma as the decimal sign",
    "group": "reads a comma as the mark between thousands",
}
DELIMITER_WORDS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
QUOTE_WORDS = {'"': "double quotes", "'": "single quotes", "none": "no quotes"}
END_WORDS = {
    "all": "at the last row of the file",
    "blank": "before the first blank row",
    "narrow": "before the notes at its foot",
}


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """What becomes of one column.

    Parameters
    ----------
    label : str
        Its heading as it was read.
    position : int
        Its place, counted from 0; used where two columns share a heading.
    name : str
        Its heading in the result; empty where the column is left out.
    type, format : str
        The field's type and format in the schema; "any" where there is no schema.
    dates : str
        "" as they stand, "dmy", "mdy", or "ymd" for those that can be read in one way only.
    serial : str
        "" for numbers as they stand, "serial-1900" or "serial-1904" for days counted from then.
    swap : str
        "swap" where a workbook took the day for the month, and both change places; else "".
    clock : str
        "full" where times of day are written with hours, minutes and seconds; else "".
    decimal : str
        "" as it stands, "comma" or "group".
    pad : int
        Digits to which whole numbers are filled up with zeros; 0 for none.
    words : tuple of str
        How true and false are written; empty for "true" and "false".
    """

    label: str
    position: int
    name: str
    type: str = "any"
    format: str = "default"
    dates: str = ""
    serial: str = ""
    swap: str = ""
    clock: str = ""
    decimal: str = ""
    pad: int = 0
    words: tuple[str, ...] = ()

    @property
    def is_changing(self) -> bool:
        """Whether cells of it may be written otherwise than they stand."""
        read = (self.dates, self.serial, self.swap, self.clock, self.decimal, self.pad)
        return any(read)


@dataclass(frozen=True, slots=True)
class Recipe:
    """The confirmed decisions of one conversion.

    Parameters
    ----------
    table : str
        The table that the result is.
    kind : str
        "text" or "workbook".
    encoding, delimiter, quote : str
        How a text is read; empty for a workbook. `quote` is "none" where there is none.
    sheet : str
        The sheet of a workbook; empty for a text.
    header_first, header_rows : int
        The line or row of the first heading, from 1, and how many rows the headings take; no row
        where there are no headings.
    end : str
        Where the table ends: "all", "blank" or "narrow".
    narrow_cells : int
        For "narrow": rows at the foot that fill no more cells than these are notes.
    blanks : str
        "leave out" or "keep" for blank rows inside.
    repeats, sums : str
        "leave out" or "keep" for rows inside that are the headings again, and for rows of totals.
    merges : str
        "fill" where a merged cell counts for each row that it covers, "first" for the first only.
    hidden_rows : str
        "keep" or "leave out".
    errors : str
        "blank" or "keep" for cells in which a formula failed.
    columns : tuple of ColumnRule
        In the order of the file.
    order : tuple of str
        The headings of the result in their order; those that no column has are written empty.
    """

    table: str
    kind: str
    encoding: str
    delimiter: str
    quote: str
    sheet: str
    header_first: int
    header_rows: int
    end: str
    narrow_cells: int
    blanks: str
    repeats: str
    sums: str
    merges: str
    hidden_rows: str
    errors: str
    columns: tuple[ColumnRule, ...]
    order: tuple[str, ...]

    def as_json(self) -> str:
        """Give it as text; the same recipe always gives the same text."""
        shape = {"version": VERSION, **asdict(self)}
        return json.dumps(shape, ensure_ascii=False, indent=2, sort_keys=True) + "\n"

    @classmethod
    def from_json(cls, text: str) -> "Recipe":
        """Read back what `as_json` gave.

        Raises
        ------
        Unsound
            When it is no recipe, or of another version.
        """
        try:
            shape = json.loads(text)
            return cls.from_dict(shape)
        except (ValueError, TypeError, KeyError, AttributeError) as fault:
            raise Unsound(
                "The recipe was not read.",
                f"It is not a recipe that this program wrote: {fault}.",
                "Take it from the page on which the file was converted, and change nothing.",
            ) from None

    @classmethod
    def from_dict(cls, shape: Mapping[str, Any]) -> "Recipe":
        """Build it from plain values; each has its type checked."""
        given = dict(shape)
        if given.pop("version") != VERSION:
            raise ValueError("its version is another")
        given["columns"] = tuple(_column(one) for one in shape["columns"])
        given["order"] = tuple(shape["order"])
        for field in fields(cls):
            wanted = {"columns": tuple, "order": tuple}.get(
                field.name, int if field.name in _NUMBERS else str
            )
            if type(given[field.name]) is not wanted:
                message = f"“{field.name}” is not what it should be"
                raise ValueError(message)
        if not all(isinstance(name, str) for name in given["order"]):
            raise ValueError("“order” is not what it should be")
        return cls(**given)

    def words(self) -> list[str]:
        """Say each step in words, in the order in which it is done."""
        return list(_steps(self))


_NUMBERS = {"header_first", "header_rows", "narrow_cells"}


def _column(shape: Mapping[str, Any]) -> ColumnRule:
    given = {**shape, "words": tuple(shape.get("words", ()))}
    rule = ColumnRule(**given)
    texts = (
        *(rule.label, rule.name, rule.type, rule.format, rule.dates, rule.serial, rule.swap),
        *(rule.clock, rule.decimal, *rule.words),
    )
    if not all(isinstance(text, str) for text in texts) or not all(
        type(number) is int and 0 <= number < 10_000 for number in (rule.position, rule.pad)
    ):
        raise ValueError("a column is not what it should be")
    return rule


def _steps(recipe: Recipe) -> Iterator[str]:
    if recipe.kind == "text":
        between = DELIMITER_WORDS.get(recipe.delimiter, recipe.delimiter)
        quotes = QUOTE_WORDS.get(recipe.quote, recipe.quote)
        yield f"Read the file as {recipe.encoding}, cells apart by {between}, with {quotes}."
    else:
        yield f"Open the workbook and read the sheet “{recipe.sheet}”, kept values, not formulas."
    first, last = recipe.header_first, recipe.header_first + recipe.header_rows - 1
    if first > 1:
        yield f"Leave out the {first - 1} {_rows(first - 1)} above the headings."
    if not recipe.header_rows:
        yield "Take every row for data: there are no headings."
    elif first == last:
        yield f"Take the headings from row {first}."
    else:
        yield f"Join the headings of rows {first} to {last}."
    yield f"End the table {END_WORDS.get(recipe.end, recipe.end)}."
    if recipe.blanks == "leave out":
        yield "Leave out rows that are blank."
    if recipe.repeats == "leave out":
        yield "Leave out rows that are the headings again."
    if recipe.sums == "leave out":
        yield "Leave out rows of totals and averages."
    if recipe.merges == "fill":
        yield "Count a merged cell for each row that it covers."
    if recipe.kind == "workbook":
        kept = "Keep" if recipe.hidden_rows == "keep" else "Leave out"
        yield f"{kept} hidden rows."
        yield (
            "Leave cells blank in which a formula failed."
            if recipe.errors == "blank"
            else "Keep the words of a failed formula."
        )
    for rule in recipe.columns:
        yield _said(rule)
    made = {rule.name for rule in recipe.columns}
    for name in recipe.order:
        if name not in made:
            yield f"Write {name} as an empty column."
    yield f"Write the columns {', '.join(recipe.order)} as CSV in UTF-8."


def _said(rule: ColumnRule) -> str:
    label = f"“{rule.label}”" if rule.label else f"without a heading ({rule.position + 1})"
    if not rule.name:
        return f"Leave out the column {label}."
    parts = [
        f"becomes {rule.name}" if rule.name != rule.label else "keeps its name",
        _DATES.get(rule.dates, ""),
        _SERIAL.get(rule.serial, ""),
        "has day and month of the workbook’s dates changed" if rule.swap else "",
        "writes times of day in full" if rule.clock else "",
        _DECIMAL.get(rule.decimal, ""),
        f"is filled up with zeros to {rule.pad} digits" if rule.pad else "",
    ]
    said = [part for part in parts if part]
    return f"Column {label} {said[0]}{''.join(f', and {part}' for part in said[1:])}."


def _rows(count: int) -> str:
    return "row" if count == 1 else "rows"
