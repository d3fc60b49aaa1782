"""Units by their UCUM codes: which are alike, and how a value goes from one to the other, exactly.

Notes
-----
Factors are fractions, so that nothing is rounded before the last step. Logarithmic and arbitrary
units (pH, decibel, international units of activity) are not converted: each is left to a person.

References
----------
Unified Code for Units of Measure 2.2 (2024), sections 2 (grammar, tables 1 to 6) and 3 (special
units); prefixes of its table 1.
"""

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from registry.errors import Unsound

PREFIXES = {
    "Y": 24, "Z": 21, "E": 18, "P": 15, "T": 12, "G": 9, "M": 6, "k": 3, "h": 2, "da": 1, "d": -1,
    "c": -2, "m": -3, "u": -6, "n": -9, "p": -12, "f": -15, "a": -18, "z": -21, "y": -24,
}  # fmt: skip
"""Powers of ten of the metric prefixes."""

BASE = frozenset({"m", "s", "g", "rad", "K", "C", "cd"})
_METRIC = {
    "mol": ("6.02214076", "10*23"), "sr": ("1", "rad2"), "Hz": ("1", "s-1"),
    "N": ("1", "kg.m/s2"), "Pa": ("1", "N/m2"), "J": ("1", "N.m"), "W": ("1", "J/s"),
    "A": ("1", "C/s"), "V": ("1", "J/C"), "F": ("1", "C/V"), "Ohm": ("1", "V/A"),
    "S": ("1", "Ohm-1"), "Wb": ("1", "V.s"), "T": ("1", "Wb/m2"), "H": ("1", "Wb/A"),
    "lm": ("1", "cd.sr"), "lx": ("1", "lm/m2"), "Bq": ("1", "s-1"), "Gy": ("1", "J/kg"),
    "Sv": ("1", "J/kg"), "l": ("1", "dm3"), "L": ("1", "l"), "ar": ("100", "m2"),
    "t": ("1000", "kg"), "bar": ("100000", "Pa"), "eq": ("1", "mol"), "osm": ("1", "mol"),
    "kat": ("1", "mol/s"), "cal_th": ("4.184", "J"), "cal": ("1", "cal_th"),
    "m[H2O]": ("9.80665", "kPa"), "m[Hg]": ("133.3220", "kPa"),
}  # fmt: skip
_OTHER = {
    "10*": ("10", "1"), "10^": ("10", "1"), "%": ("1", "10*-2"), "[ppth]": ("1", "10*-3"),
    "[ppm]": ("1", "10*-6"), "[ppb]": ("1", "10*-9"), "[pptr]": ("1", "10*-12"),
    "min": ("60", "s"), "h": ("60", "min"), "d": ("24", "h"), "wk": ("7", "d"),
    "a_j": ("365.25", "d"), "a": ("1", "a_j"), "mo_j": ("1/12", "a_j"), "mo": ("1", "mo_j"),
    "atm": ("101325", "Pa"), "[in_i]": ("2.54", "cm"), "[ft_i]": ("12", "[in_i]"),
    "[yd_i]": ("3", "[ft_i]"), "[mi_i]": ("5280", "[ft_i]"), "[nmi_i]": ("1852", "m"),
    "[kn_i]": ("1", "[nmi_i]/h"), "[gal_us]": ("231", "[in_i]3"), "[gal_br]": ("4.54609", "l"),
    "[gr]": ("64.79891", "mg"), "[lb_av]": ("7000", "[gr]"), "[oz_av]": ("1/16", "[lb_av]"),
}  # fmt: skip
"""Units of aquaria and zoos, each with what it is in other units; those of `_METRIC` take a
prefix. What is in neither is known to UCUM perhaps, and is not converted here."""
_SPECIAL = {
    "Cel": (Fraction(1), Fraction("273.15")),
    "[degF]": (Fraction(5, 9), Fraction("459.67") * Fraction(5, 9)),
}
"""Temperatures in kelvin: factor and offset."""

_TOKEN = re.compile(r"\{[!-z|~]*\}|[./()]|(?:\[[^\]]*\]|10[*^]|[A-Za-z%_'\"])+|[+-]?\d+")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit in terms of the base units.

    Parameters
    ----------
    factor : Fraction
        One of the unit, in base units.
    offset : Fraction
        What stands at its zero, in base units; 0 but for temperatures.
    powers : tuple of (str, int)
        The base units, each with its power, in the order of their names.
    counted : tuple of (str, int)
        What is counted (the words in braces), each with its power.
    """

    factor: Fraction
    offset: Fraction = Fraction(0)
    powers: tuple[tuple[str, int], ...] = ()
    counted: tuple[tuple[str, int], ...] = ()

    def times(self, other: "Unit", power: int = 1) -> "Unit":
        """Give this unit multiplied by a power of another."""
        return Unit(
            self.factor * other.factor**power,
            Fraction(0),
            _added(self.powers, other.powers, power),
            _added(self.counted, other.counted, power),
        )


_ONE = Unit(Fraction(1))


def _added(
    one: tuple[tuple[str, int], ...], other: tuple[tuple[str, int], ...], power: int
) -> tuple[tuple[str, int], ...]:
    total = Counter(dict(one))
    for name, exponent in other:
        total[name] += exponent * power
    return tuple(sorted((name, exponent) for name, exponent in total.items() if exponent))


@cache
def unit_of(code: str) -> Unit:
    """Read a UCUM code (case-sensitive).

    Raises
    ------
    Unsound
        When it is no code, or has a unit that is not converted here.

    Examples
    --------
    >>> unit_of("ug/L") == unit_of("ng/mL"), unit_of("{eggs}/d").counted
    (True, (('eggs', 1),))
    """
    tokens = _TOKEN.findall(code)
    if not code or "".join(tokens) != code:
        raise _no_unit(code, "it is not written as UCUM writes units")
    if code in _SPECIAL:
        factor, offset = _SPECIAL[code]
        return Unit(factor, offset, (("K", 1),))
    unit, rest = _term(tokens, code)
    if rest:
        raise _no_unit(code, f"“{rest[0]}” stands where none can")
    return unit


def _term(tokens: list[str], code: str) -> tuple[Unit, list[str]]:
    """Read units that are multiplied and divided, from left to right."""
    sign = 1
    if tokens[:1] == ["/"]:
        sign, tokens = -1, tokens[1:]
    part, tokens = _component(tokens, code)
    unit = _ONE.times(part, sign)
    while tokens and tokens[0] in {".", "/"}:
        sign = 1 if tokens[0] == "." else -1
        part, tokens = _component(tokens[1:], code)
        unit = unit.times(part, sign)
    return unit, tokens


def _component(tokens: list[str], code: str) -> tuple[Unit, list[str]]:
    if not tokens or tokens[0] in {".", "/", ")"}:
        raise _no_unit(code, "a unit is missing")
    head, *rest = tokens
    if head == "(":
        unit, rest = _term(rest, code)
        if rest[:1] != [")"]:
            raise _no_unit(code, "a bracket is not closed")
        return unit, rest[1:]
    if head.startswith("{"):
        return Unit(Fraction(1), counted=_counted(head)), rest
    if head.isdigit():
        unit = Unit(Fraction(int(head)))
    else:
        unit = _simple(head, code)
        if rest and re.fullmatch(r"[+-]?\d+", rest[0]):
            unit, rest = _ONE.times(unit, int(rest[0])), rest[1:]
    if rest and rest[0].startswith("{"):
        unit, rest = unit.times(Unit(Fraction(1), counted=_counted(rest[0]))), rest[1:]
    return unit, rest


def _counted(braces: str) -> tuple[tuple[str, int], ...]:
    return ((braces[1:-1], 1),)


def _simple(name: str, code: str) -> Unit:
    """Give one unit, with its prefix where it has one."""
    if (unit := _atom(name)) is not None:
        return unit
    for length in (2, 1):
        prefix, atom = name[:length], name[length:]
        if prefix in PREFIXES and (atom in BASE or atom in _METRIC):
            metric = _atom(atom)
            assert metric is not None
            return Unit(Fraction(10) ** PREFIXES[prefix]).times(metric)
    if name in _SPECIAL:
        raise _no_unit(code, f"{name} has its zero elsewhere, and stands alone or not at all")
    raise _no_unit(code, f"“{name}” is not among the units that are converted here")


@cache
def _atom(name: str) -> Unit | None:
    if name in BASE:
        return Unit(Fraction(1), powers=((name, 1),))
    value, told = (_METRIC | _OTHER).get(name, ("", ""))
    return Unit(Fraction(value)).times(unit_of(told)) if value else None


def _no_unit(code: str, why: str) -> Unsound:
    return Unsound(
        "The unit is not known.",
        f"“{code}”: {why}.",
        "Write a UCUM code such as mg/L, Cel or {eggs}/d; what has none is converted by hand.",
        fields={"unit": f"{why}."},
    )


@dataclass(frozen=True, slots=True)
class Conversion:
    """How a value goes from one unit to another: value × factor + offset."""

    factor: Fraction
    offset: Fraction

    @property
    def is_same(self) -> bool:
        """Whether a value stays as it is."""
        return self.factor == 1 and self.offset == 0


@cache
def conversion(old: str, new: str) -> Conversion:
    """Give how a value in one unit is written in another.

    Raises
    ------
    Unsound
        When one of them is not known, or they measure different things.

    Examples
    --------
    >>> conversion("g", "kg").factor, conversion("Cel", "K").offset
    (Fraction(1, 1000), Fraction(5463, 20))
    """
    one, other = unit_of(old), unit_of(new)
    if one.powers != other.powers or one.counted != other.counted:
        raise Unsound(
            "The unit cannot be converted.",
            f"{old} and {new} measure different things.",
            "See which of the two was meant; a value that is worked out from others is derived.",
            fields={"unit": "measures another thing"},
        )
    return Conversion(one.factor / other.factor, (one.offset - other.offset) / other.factor)


def are_alike(old: str, new: str) -> bool:
    """Whether two codes stand for one unit.

    >>> are_alike("l", "L"), are_alike("g", "kg"), are_alike("{eggs}", "{fish}")
    (True, False, False)
    """
    try:
        return conversion(old, new).is_same
    except Unsound:
        return False


def known() -> Mapping[str, tuple[str, str]]:
    """Give the units that are defined by others: code, value and the unit of the value."""
    return _METRIC | _OTHER
