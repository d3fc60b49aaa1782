"""Say why an animal may not be offered to a project, enrolled in it or used: one list of sentences.

The pages show these sentences before anything is sent, and the deeds refuse with the same ones.
"""

from registry.oversight.bars.entering import (
    barred_from_enrolment,
    enrolling,
    margins_of,
    planned_of,
)
from registry.oversight.bars.offering import (
    Wanted,
    barred_between,
    barred_from_offer,
    barred_places,
    free_between,
    wanted_of,
)
from registry.oversight.bars.restrictions import Bars, is_passed, restricted_on, restriction_said
from registry.oversight.bars.units import shared_units

__all__ = [
    "Bars",
    "Wanted",
    "barred_between",
    "barred_from_enrolment",
    "barred_from_offer",
    "barred_places",
    "enrolling",
    "free_between",
    "is_passed",
    "margins_of",
    "planned_of",
    "restricted_on",
    "restriction_said",
    "shared_units",
    "wanted_of",
]
