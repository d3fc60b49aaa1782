"""The input of each deed of the collection, and the lists of what is offered where."""

from registry.animals.forms.arrivals import ImportAnimals
from registry.animals.forms.fields import LOCAL_CODES
from registry.animals.forms.identity import MARK_DEEDS, PHOTOGRAPH_DEEDS
from registry.animals.forms.loans import LOAN_DEEDS
from registry.animals.forms.narrowing import CollectionFilter, OnADay
from registry.animals.forms.offered import (
    ADD_TAXON,
    ANIMAL_DEEDS,
    CASE_DEEDS,
    ENCLOSURE_DEEDS,
    GROUP_DEEDS,
    IMPORT,
    INTAKE_DEEDS,
    OPEN_ENCLOSURE,
    RECEIVE_ANIMAL,
    RECEIVE_GROUP,
    RECORD_CASE,
    RESTRICTION_DEEDS,
)

__all__ = [
    "ADD_TAXON",
    "ANIMAL_DEEDS",
    "CASE_DEEDS",
    "ENCLOSURE_DEEDS",
    "GROUP_DEEDS",
    "IMPORT",
    "INTAKE_DEEDS",
    "LOAN_DEEDS",
    "LOCAL_CODES",
    "MARK_DEEDS",
    "OPEN_ENCLOSURE",
    "PHOTOGRAPH_DEEDS",
    "RECEIVE_ANIMAL",
    "RECEIVE_GROUP",
    "RECORD_CASE",
    "RESTRICTION_DEEDS",
    "CollectionFilter",
    "ImportAnimals",
    "OnADay",
]
