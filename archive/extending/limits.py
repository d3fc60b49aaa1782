"""Whether the limits that a field sets now were set before: bounds, lengths, codes, patterns.

Nothing here reads a table, so a limit counts as new wherever it is not certain that it was implied.

References
----------
Data Package Standard 2.0, Table Schema, "Field Constraints".
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation
from typing import Any

LOWER = ("minimum", "exclusiveMinimum")
UPPER = ("maximum", "exclusiveMaximum")
SAID = {
    "required": "must be filled",
    "unique": "must hold each value once",
    "minimum": "must be {} or more",
    "maximum": "must be {} or less",
    "exclusiveMinimum": "must be more than {}",
    "exclusiveMaximum": "must be less than {}",
    "minLength": "must have {} signs or more",
    "maxLength": "must have {} signs or fewer",
    "pattern": "must be written in the form {}",
    "enum": "must be one of {}",
    "jsonSchema": "must agree with a schema of its own",
}
"""What each constraint asks, in words."""

_MOMENTS: dict[str, tuple[str, Callable[[str], object]]] = {
    "date": (r"\d{4}-\d\d-\d\d", date.fromisoformat),
    "datetime": (r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?P<zone>Z?)", datetime.fromisoformat),
    "time": (r"\d\d:\d\d:\d\d", time.fromisoformat),
    "yearmonth": (r"\d{4}-(?:0[1-9]|1[0-2])", str),
}
"""The forms in which moments of a type can be compared as texts, and what proves them sound."""
_READ_OTHERWISE = ("format", "decimalChar", "groupChar", "bareNumber", "floatNumber")

type Comparable = tuple[str, Decimal | str]


def limits_of(field: Mapping[str, Any]) -> dict[str, Any]:
    """Give the constraints of a field that ask for anything.

    >>> limits_of({"constraints": {"required": False, "minimum": 0}})
    {'minimum': 0}
    """
    said = field.get("constraints")
    return {
        name: value
        for name, value in (said.items() if isinstance(said, Mapping) else ())
        if value is not None and not (name in {"required", "unique"} and not value)
    }


def tightened(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    """Name the constraints of the new field that the old one did not imply."""
    before, now = limits_of(old), limits_of(new)
    for name, limit in now.items():
        if not (_same(before.get(name), limit) or _implied(name, limit, before, old, new)):
            yield name


def loosened(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[str]:
    """Name the constraints of the old field that the new one no longer implies."""
    yield from tightened(new, old)


def said(name: str, limit: Any) -> str:
    """Say what a constraint asks.

    >>> said("enum", ["rest", "swim"])
    'must be one of rest, swim'
    """
    words = some(limit) if isinstance(limit, list) else str(limit)
    return SAID.get(name, f"must follow “{name}”").format(words)


def some(codes: Sequence[object]) -> str:
    """Write the first eight of a list, and how many more there are.

    >>> some(["rest", "swim"])
    'rest, swim'
    """
    more = f" and {len(codes) - 8} more" if len(codes) > 8 else ""
    return ", ".join(map(str, codes[:8])) + more


def _same(one: Any, other: Any) -> bool:
    # 1 and True are equal to Python, and not to the standard.
    return type(one) is type(other) and bool(one == other)


def _implied(
    name: str,
    limit: Any,
    before: Mapping[str, Any],
    old: Mapping[str, Any],
    new: Mapping[str, Any],
) -> bool:
    if name in {"minLength", "maxLength"}:
        was = before.get(name)
        if not isinstance(was, int) or not isinstance(limit, int):
            return False
        return was >= limit if name == "minLength" else was <= limit
    if name == "enum":
        was = before.get("enum")
        if not isinstance(was, list) or not isinstance(limit, list):
            return False
        return all(any(_same(one, other) for other in limit) for one in was)
    if name not in LOWER + UPPER:
        return False
    bound = _comparable(limit, new)
    pair, sign = (LOWER, 1) if name in LOWER else (UPPER, -1)
    for other in pair:
        was = _comparable(before[other], old) if other in before else None
        # A bound that itself may be met implies one that may not only where it lies further in.
        inward = name.startswith("exclusive") and not other.startswith("exclusive")
        if bound and was and bound[0] == was[0] and _within(was[1], bound[1], sign, inward):
            return True
    return False


def _within(was: Any, bound: Any, sign: int, is_strict: bool) -> bool:
    if is_strict:
        return bool(was > bound if sign > 0 else was < bound)
    return bool(was >= bound if sign > 0 else was <= bound)


def _comparable(limit: Any, field: Mapping[str, Any]) -> Comparable | None:
    """Give a bound as what can be compared with another of the same kind; None where unsure."""
    kind = str(field.get("type", "string"))
    plain = not any(
        key in field and not (key == "format" and field[key] == "default")
        for key in _READ_OTHERWISE
    )
    if kind in {"integer", "number", "year"}:
        return _number(limit, kind, plain)
    if kind not in _MOMENTS or not plain or not isinstance(limit, str):
        return None
    form, prove = _MOMENTS[kind]
    told = re.fullmatch(form, limit, re.ASCII)
    if told is None:
        return None
    try:
        prove(limit)
    except ValueError:
        return None
    return kind + (told.groupdict().get("zone") or ""), limit


def _number(limit: Any, kind: str, is_plain: bool) -> Comparable | None:
    if isinstance(limit, bool) or not isinstance(limit, int | float | str):
        return None
    if isinstance(limit, str) and not (is_plain and re.fullmatch(r"-?\d+", limit, re.ASCII)):
        return None
    if kind == "integer" and isinstance(limit, float) and not limit.is_integer():
        return None
    if kind == "year" and not re.fullmatch(r"\d{4}", str(limit), re.ASCII):
        return None
    try:
        number = Decimal(str(limit))
    except InvalidOperation:
        return None
    return ("number", number) if number.is_finite() else None
