"""Units against the published list of UCUM, its parser by others, and a library of quantities.

Sources: ucum-essence.xml, UCUM 2.2 of 17 June 2024, and the table of example codes for electronic
messaging, both as ucumvert 0.3 carries them, whose parser judges too; pint 0.26.
"""

import csv
import importlib.resources
import xml.etree.ElementTree as ET
from fractions import Fraction

import pint
import pytest
from ucumvert import get_ucum_parser

from archive.extending.units import BASE, PREFIXES, conversion, known, unit_of
from registry.errors import Unsound

pytestmark = pytest.mark.outside
CARRIED = importlib.resources.files("ucumvert") / "vendor"
SPACE = "{http://unitsofmeasure.org/ucum-essence}"


@pytest.fixture(scope="module")
def published():
    return ET.fromstring((CARRIED / "ucum-essence.xml").read_bytes())


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry()


def test_each_unit_and_prefix_is_defined_as_the_published_list_defines_it(published):
    powers = {
        one.get("Code"): Fraction(one.find(f"{SPACE}value").get("value"))
        for one in published.iter(f"{SPACE}prefix")
    }
    binary = {"Ki", "Mi", "Gi", "Ti"}
    assert {code: Fraction(10) ** power for code, power in PREFIXES.items()} == {
        code: value for code, value in powers.items() if code not in binary
    }
    assert {one.get("Code") for one in published.iter(f"{SPACE}base-unit")} == BASE
    units = {one.get("Code"): one for one in published.iter(f"{SPACE}unit")}
    assert len(known()) > 50
    for code, (value, told) in known().items():
        theirs = units[code].find(f"{SPACE}value")
        expected = unit_of(theirs.get("Unit"))
        assert unit_of(told).powers == expected.powers, code
        ours = Fraction(value) * unit_of(told).factor
        assert ours == Fraction(theirs.get("value")) * expected.factor, code


def test_metric_units_alone_take_a_prefix(published):
    units = {one.get("Code"): one.get("isMetric") for one in published.iter(f"{SPACE}unit")}
    for code in known():
        if code[0] in "[%1" or code in {"d", "h", "a"}:
            continue
        prefixed = f"k{code}"
        if units[code] == "yes":
            assert unit_of(prefixed).factor == 1000 * unit_of(code).factor
        else:
            with pytest.raises(Unsound):
                unit_of(prefixed)


def test_what_is_read_is_a_code_and_what_is_no_code_is_not_read():
    parser = get_ucum_parser()
    text = (CARRIED / "ucum_examples.tsv").read_text("utf-8")
    codes = [row["UCUM_CODE"] for row in csv.DictReader(text.splitlines(), delimiter="\t")]
    read = []
    for code in filter(None, codes):
        try:
            unit_of(code)
        except Unsound:
            continue
        parser.parse(code)
        read.append(code)
    assert len(read) > 500, len(read)
    for wrong in ("degC", "ppm", "m//s", "(m", "m)", "mg/", "hr", ".m", "m s", "kCelx", "{a"):
        with pytest.raises(Unsound):
            unit_of(wrong)
        with pytest.raises(Exception, match=r".+"):
            parser.parse(wrong)


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("mg/L", "g/m3", ("mg/L", "g/m**3")),
        ("Cel", "K", ("degC", "kelvin")),
        ("[degF]", "Cel", ("degF", "degC")),
        ("g", "kg", ("g", "kg")),
        ("[oz_av]", "g", ("oz", "g")),
        ("[gal_us]", "L", ("gallon", "L")),
        ("L/min", "m3/h", ("L/min", "m**3/h")),
        ("cm/s", "[ft_i]/min", ("cm/s", "ft/min")),
        ("uS/cm", "mS/m", ("uS/cm", "mS/m")),
        ("kPa", "atm", ("kPa", "atm")),
        ("mmol/L", "mol/m3", ("mmol/L", "mol/m**3")),
        ("wk", "h", ("week", "hour")),
        ("[kn_i]", "m/s", ("knot", "m/s")),
        ("J/(kg.d)", "cal/(g.h)", ("J/(kg*day)", "cal/(g*hour)")),
    ],
)
def test_a_value_is_converted_as_pint_converts_it(old, new, named, registry):
    found = conversion(old, new)
    for value in (0.0, 1.0, 37.5):
        theirs = registry.Quantity(value, named[0]).to(named[1]).magnitude
        assert float(Fraction(value) * found.factor + found.offset) == pytest.approx(theirs)


def test_what_is_counted_is_part_of_the_unit():
    with pytest.raises(Unsound, match="measure different things"):
        conversion("{eggs}", "{fish}")
    assert conversion("{eggs}/h", "{eggs}/d").factor == 24
