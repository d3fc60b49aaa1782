"""Intake: a student's file as it came, and the confirmed steps that make a plain table of it.

`propose` says for each decision what it would do and why; `convert` does what was confirmed. What
cannot be known is asked, and nothing is guessed in silence.
"""

from archive.engine.intake.decisions import Decision, Notice, Option, Proposal
from archive.engine.intake.recipe import ColumnRule, Recipe
from archive.engine.intake.watch import Converted, convert, propose

__all__ = [
    "ColumnRule",
    "Converted",
    "Decision",
    "Notice",
    "Option",
    "Proposal",
    "Recipe",
    "convert",
    "propose",
]
