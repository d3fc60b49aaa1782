"""Which column is which field: matched by name and by content, and what becomes of the rest."""

from collections.abc import Sequence
from dataclasses import dataclass

from archive.engine.intake.decisions import FIELD, LEAVE, OWN, Choice, Option
from archive.engine.intake.names import Namesake
from archive.engine.intake.profile import Column

SURE = 0.55
"""A match below this is told, not proposed."""


@dataclass(frozen=True, slots=True)
class Match:
    """A column and a field that may be one."""

    column: int
    field: int
    score: float
    reason: str


def matches_of(
    labels: Sequence[str], columns: Sequence[Column], fields: Sequence[Namesake]
) -> dict[int, Match]:
    """Match columns to fields by name and by content; each field goes to one column.

    Notes
    -----
    The name counts for 0.8 of the score and the share of cells that fit the field for 0.2; where
    less than half of the cells fit, the score is halved. Without any likeness of names, codes of
    the dictionary that nearly all cells hold make a match of 0.6; so does the place, where no
    column has a heading and there are as many as fields. The weights are a house rule.
    """
    is_placed = len(labels) == len(fields) and not any(labels)
    rated = []
    for at, (label, column) in enumerate(zip(labels, columns, strict=True)):
        for number, field in enumerate(fields):
            score, reason = _rated(label, column, field)
            if is_placed and at == number and not score and column.fit(field) >= 0.9:
                score, reason = 0.6, f"it stands where the dictionary has {field.name}"
            if score > 0.2:
                rated.append(Match(at, number, score, reason))
    taken: dict[int, Match] = {}
    used: set[int] = set()
    for match in sorted(rated, key=lambda one: (-one.score, one.column, one.field)):
        if match.column not in taken and match.field not in used:
            taken[match.column] = match
            used.add(match.field)
    return taken


def _rated(label: str, column: Column, field: Namesake) -> tuple[float, str]:
    like, why = field.likeness(label)
    fit = column.fit(field)
    if not like:
        if field.codes and column.filled and fit >= 0.9:
            return 0.6, f"no likeness of names, but its cells hold the codes of {field.name}"
        return 0.0, ""
    score = 0.8 * like + 0.2 * fit
    wanted = "are codes of the dictionary" if field.codes else f"fit {_a(field.type)}"
    told = f"{why}; {fit:.0%} of its cells {wanted}" if column.filled else why
    if fit < 0.5:
        score *= 0.5 if like < 0.9 else 0.75
    return score, told


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def column_choice(
    label: str, position: int, column: Column, fields: Sequence[Namesake], match: Match | None
) -> Choice:
    """Propose what becomes of one column."""
    own = [Option(OWN, "Keep it under its own name")] if label else []
    options = (
        *(Option(f"{FIELD}{one.name}", f"{one.name}{_titled(one)}") for one in fields),
        *own,
        Option(LEAVE, "Leave it out"),
    )
    named = f"“{label}”" if label else f"{position + 1}, which has no heading,"
    question = f"What is the column {named} in the dictionary?"
    if not fields:
        question = f"What becomes of the column {named}?"
        if label:
            return Choice(question, OWN, "There is no dictionary; it keeps its name.", 0.9, options)
    if not label and not column.filled:
        return Choice(question, LEAVE, "It has no heading and holds nothing.", 0.95, options)
    if match is None and not column.filled:
        reason = "It holds nothing, and no field of the dictionary is like it."
        return Choice(question, LEAVE, reason, 0.8, options)
    held = ", ".join(f"“{text[:30]}”" for text in column.samples)
    holds = f" It holds {held}." if held else " It holds nothing."
    if match is None:
        return Choice(question, "", f"No field of the dictionary is like it.{holds}", 0.0, options)
    field = fields[match.field]
    if match.score < SURE:
        reason = f"It may be {field.name} ({match.reason}), but that is not sure.{holds}"
        return Choice(question, "", reason, match.score, options)
    reason = f"{match.reason[:1].upper()}{match.reason[1:]}.{holds}"
    return Choice(question, f"{FIELD}{field.name}", reason, match.score, options)


def _titled(field: Namesake) -> str:
    return f" ({field.title})" if field.title and field.title != field.name else ""
