"""Kin: pedigrees, inbreeding, kinship, and what relatedness does to replication.

Pure: no Django, and no library outside the standard one, so that pages may ask it too.
"""

from registry.animals.kin.breeders import effective_breeders, effective_size
from registry.animals.kin.inbreeding import inbreeding
from registry.animals.kin.kinship import kinship_among, kinship_matrix, mean_kinship
from registry.animals.kin.pedigree import Parents, Pedigree
from registry.animals.kin.relations import Relation, relation

__all__ = [
    "Parents",
    "Pedigree",
    "Relation",
    "effective_breeders",
    "effective_size",
    "inbreeding",
    "kinship_among",
    "kinship_matrix",
    "mean_kinship",
    "relation",
]
