"""Taxa, enclosures, animals, counted groups, eggs, their events, marks, parents and restrictions.

Each file knows those above it in this list, and names those below it by a string:
words, taxa, places, routines, events, restrictions, living, loans, marks, eggs, parentage.
"""

from registry.animals.models.eggs import EggCase, Embryo
from registry.animals.models.events import GAINS, LOSSES, PLACING, Event
from registry.animals.models.living import Animal, Group, OfOne, Word
from registry.animals.models.loans import Loan
from registry.animals.models.marks import Confidence, Mark, Photograph, Reading, Side
from registry.animals.models.parentage import Candidate, Parentage
from registry.animals.models.places import Enclosure, Intake
from registry.animals.models.restrictions import Restriction
from registry.animals.models.routines import Routine
from registry.animals.models.taxa import ProtectionGroup, Taxon, TaxonClass
from registry.animals.models.words import LifeStage, Precision, Sex, one_of

__all__ = [
    "GAINS",
    "LOSSES",
    "PLACING",
    "Animal",
    "Candidate",
    "Confidence",
    "EggCase",
    "Embryo",
    "Enclosure",
    "Event",
    "Group",
    "Intake",
    "LifeStage",
    "Loan",
    "Mark",
    "OfOne",
    "Parentage",
    "Photograph",
    "Precision",
    "ProtectionGroup",
    "Reading",
    "Restriction",
    "Routine",
    "Sex",
    "Side",
    "Taxon",
    "TaxonClass",
    "Word",
    "one_of",
]
