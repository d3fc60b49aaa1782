"""Codes of implanted chips: ISO 11784 read and checked, older ones kept as they are.

References
----------
ISO 11784: bit 1 animal flag, 2-15 reserved, 16 data-block flag, 17-26 country or manufacturer,
27-64 national identification (table as printed by the International Committee for Animal
Recording). ISO 3166-1 numeric country codes. S.I. 2009/3219: 826 is the United Kingdom on an
electronic device. 900-998 manufacturers, 999 tests: from memory.
"""

import re
from dataclasses import dataclass

from django.utils.translation import gettext as _

from registry.errors import Unsound

LARGEST_NATIONAL = 2**38 - 1
"""Largest national identification, 274,877,906,943: it has 38 bits."""

TEST_PREFIX = 999
"""For chips made to try readers; no animal may bear one."""

MANUFACTURERS = range(900, 999)
"""Prefixes given to manufacturers."""

COUNTRIES = frozenset(
    [
        4, 8, 10, 12, 16, 20, 24, 28, 31, 32, 36, 40, 44, 48, 50, 51, 52, 56, 60, 64, 68, 70, 72,
        74, 76, 84, 86, 90, 92, 96, 100, 104, 108, 112, 116, 120, 124, 132, 136, 140, 144, 148,
        152, 156, 158, 162, 166, 170, 174, 175, 178, 180, 184, 188, 191, 192, 196, 203, 204, 208,
        212, 214, 218, 222, 226, 231, 232, 233, 234, 238, 239, 242, 246, 248, 250, 254, 258, 260,
        262, 266, 268, 270, 275, 276, 288, 292, 296, 300, 304, 308, 312, 316, 320, 324, 328, 332,
        334, 336, 340, 344, 348, 352, 356, 360, 364, 368, 372, 376, 380, 384, 388, 392, 398, 400,
        404, 408, 410, 414, 417, 418, 422, 426, 428, 430, 434, 438, 440, 442, 446, 450, 454, 458,
        462, 466, 470, 474, 478, 480, 484, 492, 496, 498, 499, 500, 504, 508, 512, 516, 520, 524,
        528, 531, 533, 534, 535, 540, 548, 554, 558, 562, 566, 570, 574, 578, 580, 581, 583, 584,
        585, 586, 591, 598, 600, 604, 608, 612, 616, 620, 624, 626, 630, 634, 638, 642, 643, 646,
        652, 654, 659, 660, 662, 663, 666, 670, 674, 678, 682, 686, 688, 690, 694, 702, 703, 704,
        705, 706, 710, 716, 724, 728, 729, 732, 740, 744, 748, 752, 756, 760, 762, 764, 768, 772,
        776, 780, 784, 788, 792, 795, 796, 798, 800, 804, 807, 818, 826, 831, 832, 833, 834, 840,
        850, 854, 858, 860, 862, 876, 882, 887, 894,
    ]
)  # fmt: skip
"""The 249 numeric country codes of ISO 3166-1."""

_CODE = re.compile(r"[0-9]{15}")
_HEX = re.compile(r"[0-9A-Fa-f]{16}")
_OLDER = re.compile(r"[0-9A-Z]{9,10}")
_GAPS = re.compile(r"[\s.-]+")


@dataclass(frozen=True)
class Chip:
    """A code by ISO 11784.

    Parameters
    ----------
    prefix : int
        Country (ISO 3166-1 numeric) or manufacturer, 0-999.
    national : int
        National identification, 0-274877906943.
    has_data_block : bool
        Whether the chip sends more than its code; known only from the 64 bits.
    """

    prefix: int
    national: int
    has_data_block: bool = False

    @property
    def code(self) -> str:
        """The fifteen digits that readers show."""
        return f"{self.prefix:03d}{self.national:012d}"

    @property
    def bits(self) -> str:
        """The 64 bits in sixteen hexadecimal digits, the animal flag set."""
        value = 1 << 63 | self.has_data_block << 48 | self.prefix << 38 | self.national
        return f"{value:016X}"

    def __str__(self) -> str:
        return self.code


@dataclass(frozen=True)
class OlderCode:
    """A code of nine or ten characters from before the standard: kept, and not validated.

    Parameters
    ----------
    code : str
        Its characters, in capitals.
    """

    code: str

    def __str__(self) -> str:
        return self.code


def decode(bits: str, *, allow_test: bool = False) -> Chip:
    """Read the 64 bits that a chip sends.

    Parameters
    ----------
    bits : str
        Sixteen hexadecimal digits, the first bit leading.
    allow_test : bool
        Whether a test chip (999) is taken.

    Raises
    ------
    Unsound
        When they are no animal's code.

    Examples
    --------
    >>> decode("8000F65A13CB3687").code
    '985112001234567'
    """
    if not _HEX.fullmatch(bits):
        raise _unsound(bits, "It must be sixteen hexadecimal digits.")
    value = int(bits, 16)
    if not value >> 63:
        raise _unsound(bits, "Its first bit says that it marks no animal.")
    chip = Chip(value >> 38 & 0x3FF, value & LARGEST_NATIONAL, bool(value >> 48 & 1))
    _check(chip, bits, allow_test=allow_test)
    return chip


def read_code(text: str, *, allow_test: bool = False) -> Chip:
    """Read a code as a reader shows it.

    Parameters
    ----------
    text : str
        Fifteen digits; blanks, dots and hyphens between them are dropped.
    allow_test : bool
        Whether a test chip (999) is taken.

    Raises
    ------
    Unsound
        With the complaint under the field "chip".

    Notes
    -----
    The standard has no check digit: a slip that gives another sound code cannot be found here.

    Examples
    --------
    >>> read_code("826 274877906943").bits
    '8000CEBFFFFFFFFF'
    """
    digits = _GAPS.sub("", text)
    if not _CODE.fullmatch(digits):
        raise _unsound(text, "It must be fifteen digits.")
    chip = Chip(int(digits[:3]), int(digits[3:]))
    _check(chip, text, allow_test=allow_test)
    return chip


def recognise(text: str, *, allow_test: bool = False) -> Chip | OlderCode:
    """Read a code of either kind.

    Parameters
    ----------
    text : str
        Fifteen digits by ISO 11784, or the nine or ten characters of an older chip.
    allow_test : bool
        Whether a test chip (999) is taken.

    Raises
    ------
    Unsound
        When it is neither.
    """
    bare = _GAPS.sub("", text).upper()
    if _OLDER.fullmatch(bare):
        return OlderCode(bare)
    if not _CODE.fullmatch(bare):
        raise _unsound(text, "It must be fifteen digits, or nine or ten for an older chip.")
    return read_code(bare, allow_test=allow_test)


def _check(chip: Chip, text: str, *, allow_test: bool) -> None:
    if chip.prefix == TEST_PREFIX:
        if not allow_test:
            raise _unsound(text, "It begins with 999, which is for trying readers.")
    elif chip.prefix not in COUNTRIES and chip.prefix not in MANUFACTURERS:
        raise _unsound(
            text,
            _("It begins with %(prefix)s, which is no country and no manufacturer.")
            % {"prefix": f"{chip.prefix:03d}"},
        )
    if chip.national > LARGEST_NATIONAL:
        raise _unsound(
            text,
            _("Its last twelve digits are above %(largest_national)s.")
            % {"largest_national": LARGEST_NATIONAL},
        )


def _unsound(text: str, why: str) -> Unsound:
    return Unsound(
        _("%(text)s is no chip code.") % {"text": f"{text.strip()!r}"},
        why,
        "Read the chip again, and copy the number from the reader.",
        fields={"chip": why},
    )
