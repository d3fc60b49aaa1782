"""What a number of a design may be; what may not be is refused in sentences, never with NaN."""

import math
from typing import Any, NoReturn

from registry.errors import Unsound


def refuse(field: str, what: str, why: str, then: str) -> NoReturn:
    """Refuse what was given for one field of a design.

    Parameters
    ----------
    field : str
        The parameter at fault, as a page or the API names it.
    what, why, then : str
        The three sentences of a refusal.

    Raises
    ------
    Unsound
        Always.
    """
    raise Unsound(what, why, then, fields={field: f"{why} {then}"})


LARGEST = 1e9
SMALLEST = 1e-9
"""No number of a design is larger; what is nearer to 0 is taken as 0."""


def number(field: str, value: Any, said: str) -> float:
    """Give a plain number, or refuse what is none and what nobody measures."""
    try:
        found = math.nan if isinstance(value, bool | str) else float(value)
    except OverflowError:  # a whole number of hundreds of digits
        found = math.inf
    except (TypeError, ValueError):
        found = math.nan
    if math.isnan(found):
        refuse(
            field,
            f"The {said} is not a number.",
            f"It was given as {str(value)[:40]!r}.",
            f"Give the {said} as a plain number.",
        )
    if abs(found) > LARGEST:
        refuse(
            field,
            f"The {said} is not a number that can be planned with.",
            f"It is beyond {LARGEST:g}.",
            "Take a unit in which the numbers are handier.",
        )
    return found if abs(found) >= SMALLEST else 0.0


def above_zero(field: str, value: float, said: str, then: str = "") -> float:
    """Give a number above nought, or refuse it.

    Examples
    --------
    >>> above_zero("sd", 2, "standard deviation")
    2.0
    """
    if number(field, value, said) <= 0:
        refuse(
            field,
            f"The {said} must be above 0.",
            f"It was given as {value:g}.",
            then or f"Give the {said} that you expect, from earlier data or a pilot.",
        )
    return float(value)


def spread(value: float, field: str = "sd", said: str = "standard deviation") -> float:
    """Give a standard deviation, or refuse one that says that nothing ever varies."""
    return above_zero(
        field,
        value,
        said,
        f"Nothing that is measured on animals has no spread: give the {said} of earlier data or "
        "of a pilot, in the outcome's own unit.",
    )


def effect_of(value: float, field: str = "effect") -> float:
    """Give the size of an effect without its sign, or refuse an effect of nothing."""
    if number(field, value, "effect") == 0:
        refuse(
            field,
            "An effect of 0 cannot be planned for.",
            "No number of units finds a difference that is not there.",
            "Give the smallest difference that would change what the keepers do.",
        )
    return abs(float(value))


def between(
    field: str,
    value: float,
    low: float,
    high: float,
    said: str,
    *,
    ends: bool = False,
    then: str = "",
) -> float:
    """Give a number between two others, the ends allowed or not.

    Examples
    --------
    >>> between("icc", 0.2, 0, 1, "ICC", ends=True)
    0.2
    """
    found = number(field, value, said)
    if not (low <= found <= high if ends else low < found < high):
        way = f"from {low:g} to {high:g}" if ends else f"above {low:g} and below {high:g}"
        refuse(
            field,
            f"The {said} must be {way}.",
            f"It was given as {value:g}.",
            then or "Give a number in that range.",
        )
    return found


def alpha_of(value: float) -> float:
    """Give a significance level from 0.0001 to 0.25; .05 is common practice, no source."""
    then = "Usual is 0.05, which is 5 per cent."
    return between("alpha", value, 0.0001, 0.25, "significance level", ends=True, then=then)


def power_of(value: float, alpha: float) -> float:
    """Give a power above the significance level and below 1."""
    between(
        "power",
        value,
        0,
        1,
        "power",
        then="Usual is 0.8 or 0.9: the share of such studies that would find the effect.",
    )
    if value <= alpha:
        refuse(
            "power",
            "The power must be above the significance level.",
            f"A test that looks at nothing finds “effects” with a probability of {alpha:g}.",
            "Give a power of 0.8 or 0.9.",
        )
    return float(value)


def icc_of(value: float, field: str = "icc", said: str = "ICC") -> float:
    """Give an intraclass correlation from 0 to 1."""
    return between(
        field,
        value,
        0,
        1,
        said,
        ends=True,
        then="It is the share of the variance that lies between units; 0.05 to 0.4 is often seen "
        "between tanks (common practice, no source). Estimate it from earlier data.",
    )


def correlation_of(value: float, field: str = "rho", said: str = "correlation") -> float:
    """Give a correlation above −1 and below 1."""
    return between(field, value, -1, 1, said)


def sides_of(value: int) -> int:
    """Give the sides of a test: 1 or 2."""
    if number("sides", value, "number of sides") not in {1, 2}:
        refuse(
            "sides",
            "A test has one side or two.",
            f"It was given as {value!r}.",
            "Take 2 unless the other direction would lead to the same deed as no effect at all.",
        )
    return value


def whole(
    field: str, value: float, least: int, said: str, then: str = "", most: int = 10_000_000
) -> int:
    """Give a whole number that is neither below a least one nor above a greatest.

    Examples
    --------
    >>> whole("per_unit", 10, 1, "number of animals in a tank")
    10
    """
    found = number(field, value, said)
    if found != int(found) or found < least:
        refuse(
            field,
            f"The {said} must be a whole number, at least {least}.",
            f"It was given as {value:g}.",
            then or "Give such a number.",
        )
    if found > most:
        refuse(
            field,
            f"The {said} is more than can be planned with.",
            f"It was given as {found:g}, and the most is {most:,}.",
            "Give a smaller number.",
        )
    return int(found)
