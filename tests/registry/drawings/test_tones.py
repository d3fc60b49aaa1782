"""The tones of the use map can be told apart, on paper, on a light screen and on a dark one."""

import re
from itertools import pairwise
from pathlib import Path

import pytest

SHEET = Path(__file__).resolve().parents[3] / "registry" / "static" / "strandline.css"
TONES = re.compile(r"(?s)--t1: (#\w+); --t2: (#\w+); --t3: (#\w+); --t4: (#\w+); --t5: (#\w+);")

# How far neighbouring tones lie apart at least, in steps of lightness from black (0) to white
# (100): common practice, no source; the middle ones are looked at side by side most.
LEAST, LEAST_IN_THE_MIDDLE = 15.0, 25.0


def lightness(colour: str) -> float:
    """Give CIE 1976 L* of an sRGB colour (CIE 15:2004, 8.2.1; IEC 61966-2-1 for the parts)."""
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(one * 2 for one in digits)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts]
    y = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return 116 * y ** (1 / 3) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3


def test_the_lightness_of_black_white_and_the_middle_grey_is_as_published() -> None:
    assert lightness("#000") == pytest.approx(0)
    assert lightness("#ffffff") == pytest.approx(100)
    assert lightness("#777777") == pytest.approx(50, abs=0.5)  # sRGB 119 is L* 50.0, from memory


def test_the_tones_of_the_map_lie_apart_in_light_in_dark_and_in_print() -> None:
    found = TONES.findall(SHEET.read_text(encoding="utf-8"))
    assert len(found) == 3
    for tones in found:
        second, third, fourth, fifth = map(lightness, tones[1:])
        steps = [abs(b - a) for a, b in pairwise((second, third, fourth, fifth))]
        assert min(steps) >= LEAST, (tones, steps)
        assert steps[1] >= LEAST_IN_THE_MIDDLE, (tones, steps)
