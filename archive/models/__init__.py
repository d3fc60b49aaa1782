"""Dictionaries, datasets, deposits and the versions that they become; mappings between them."""

from archive.models.extending import DictionaryMapping
from archive.models.holding import (
    Dataset,
    Deposit,
    DepositFile,
    Dictionary,
    IntakeRecipe,
    Mending,
    Version,
)

__all__ = [
    "Dataset",
    "Deposit",
    "DepositFile",
    "Dictionary",
    "DictionaryMapping",
    "IntakeRecipe",
    "Mending",
    "Version",
]
