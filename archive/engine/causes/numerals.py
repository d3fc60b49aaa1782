"""How a column writes its numbers: with which sign for decimals and between thousands."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from archive.engine.causes.sheet import Column, Sheet
from archive.engine.corrections.cells import SPACES

NUMERAL = re.compile(r"[+-]?[0-9]+(?:[., '’\u00a0\u2007\u202f][0-9]+)+")
GAPS = " '’\u00a0\u2007\u202f"


@dataclass(frozen=True, slots=True)
class Style:
    """The two signs, and whether the cells leave no doubt about them; `why` is said of doubt."""

    decimal: str
    group: str
    why: str = ""


def odd_numerals(sheet: Sheet, column: Column) -> list[str]:
    """Give the values of a column of numbers that are numbers, only written in another way."""
    fault = sheet.fault("type-error", column.name)
    if column.type not in {"number", "integer"} or not fault.count:
        return []
    stripped = {value: value.strip(SPACES) for value in column.filled()}
    return [
        value
        for value, text in stripped.items()
        if NUMERAL.fullmatch(text) and ("," in text or text.count(".") > 1 or _gap(text))
    ]


def style_of(values: Iterable[str]) -> Style:
    """Judge by the values themselves which sign is which."""
    texts = [value.strip(SPACES).lstrip("+-") for value in values]
    gaps = {gap for text in texts if (gap := _gap(text))}
    if gaps:
        decimal = "," if any("," in text for text in texts) else "."
        return Style(decimal, gaps.pop(), "Several signs part the thousands." if gaps else "")
    both = {_last(text) for text in texts if "," in text and "." in text}
    if len(both) == 1:
        decimal = both.pop()
        return Style(decimal, "." if decimal == "," else ",")
    if both:
        return Style(",", "", "Some cells have the comma for decimals, others for thousands.")
    repeated = {sign for sign in ",." if any(text.count(sign) > 1 for text in texts)}
    telling = [t for t in texts if t.count(",") == 1 and not _may_be_group(t)]
    if repeated == {","}:
        doubt = "Some cells have the comma for decimals, others for thousands." if telling else ""
        return Style(".", ",", doubt)
    if repeated:
        return Style(",", ".")
    if telling:
        return Style(",", "")
    return Style(
        ",", "", "Each has three figures after the comma: it may part thousands or decimals."
    )


def _may_be_group(text: str) -> bool:
    return re.fullmatch("[1-9][0-9]{0,2},[0-9]{3}", text) is not None


def _gap(text: str) -> str:
    return next((sign for sign in text if sign in GAPS), "")


def _last(text: str) -> str:
    return "," if text.rfind(",") > text.rfind(".") else "."
