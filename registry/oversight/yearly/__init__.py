"""The yearly return: procedures and animals, counted in the year in which a procedure ended."""

from registry.oversight.yearly.editions import (
    Difference,
    Edition,
    agrees,
    differences,
    edition_on,
)
from registry.oversight.yearly.entries import Lot, procedures_of
from registry.oversight.yearly.lists import Category, SpeciesList, species_of
from registry.oversight.yearly.sums import Procedure, Return, Row, yearly_return

__all__ = [
    "Category",
    "Difference",
    "Edition",
    "Lot",
    "Procedure",
    "Return",
    "Row",
    "SpeciesList",
    "agrees",
    "differences",
    "edition_on",
    "procedures_of",
    "species_of",
    "yearly_return",
]
