"""Dictionaries, datasets, deposits and the versions that they become; mappings; analyses."""

from archive.models.analyses import Analysis, Sitting
from archive.models.extending import DictionaryMapping, PooledTable
from archive.models.holding import (
    Dataset,
    Deposit,
    DepositFile,
    Dictionary,
    IntakeRecipe,
    Mending,
    Version,
)
from archive.models.taken import Taken

__all__ = [
    "Analysis",
    "Dataset",
    "Deposit",
    "DepositFile",
    "Dictionary",
    "DictionaryMapping",
    "IntakeRecipe",
    "Mending",
    "PooledTable",
    "Sitting",
    "Taken",
    "Version",
]
