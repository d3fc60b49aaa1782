"""The plan on one page: the essential items of a report filled beforehand, and what came of it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # they bring numpy, which the process that serves pages does not load
    from registry.design.allocation.base import Allocation
    from registry.design.schedules.sessions import Schedule
    from registry.design.sizes.asking import Sized

# The titles 5 to 10 are from memory.
PLAN_SOURCE = "Percie du Sert et al. (2020), The ARRIVE guidelines 2.0, PLoS Biology 18, e3000410"

ESSENTIAL = (
    "Study design",
    "Sample size",
    "Inclusion and exclusion criteria",
    "Randomisation",
    "Blinding",
    "Outcome measures",
    "Statistical methods",
    "Experimental animals",
    "Experimental procedures",
    "Results",
)
"""Titles of the ten essential items, in order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """What a plan says, as far as it is said yet; an empty text is not said.

    Parameters
    ----------
    question : str
    unit : str
        The experimental unit.
    arms : mapping of str to int
        Treatment to its number of units.
    outcome, outcome_unit : str
        What is measured, and in what.
    ethogram : str
        Version of the ethogram or dictionary.
    exclusions : str
        Rules fixed beforehand.
    replication : Sized, optional
    replication_source : str
        Where the spread comes from: the identifier of a version, or why it is assumed.
    number_reason : str
        Why this many, where no sum was made.
    allocation : Allocation, optional
        As it was drawn, with or without its places.
    allocation_said : str
        How units will be allocated, before they are.
    schedule : Schedule, optional
    blinding, analysis, stopping, animals, procedures : str
    """

    question: str = ""
    unit: str = ""
    arms: Mapping[str, int] = field(default_factory=dict)
    outcome: str = ""
    outcome_unit: str = ""
    ethogram: str = ""
    exclusions: str = ""
    replication: "Sized | None" = None
    replication_source: str = ""
    number_reason: str = ""
    allocation: "Allocation | None" = None
    allocation_said: str = ""
    schedule: "Schedule | None" = None
    blinding: str = ""
    analysis: str = ""
    stopping: str = ""
    animals: str = ""
    procedures: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One essential item.

    Parameters
    ----------
    number : int
        1 to 10.
    title : str
    text : str
        What the plan says of it, in sentences.
    missing : tuple of str
        What is not said yet.
    """

    number: int
    title: str
    text: str
    missing: tuple[str, ...]


def essential_items(outline: Outline) -> tuple[Item, ...]:
    """Fill the ten essential items from a plan.

    Parameters
    ----------
    outline : Outline

    Returns
    -------
    tuple of Item
        Ten; what the plan does not say is named in `missing`, and nothing is made up.

    References
    ----------
    Percie du Sert, N. et al. (2020). The ARRIVE guidelines 2.0: updated guidelines for reporting
    animal research. PLoS Biology 18, e3000410.

    Examples
    --------
    >>> items = essential_items(Outline(unit="tank", arms={"still": 4, "brisk": 4}))
    >>> items[0].text
    'The experimental unit is the tank. Arms: still (4), brisk (4).'
    >>> items[4].missing
    ('who is blind to what',)
    """
    said: tuple[Parts, ...] = (
        _study_design(outline),
        _sample_size(outline),
        [(outline.exclusions, "rules of exclusion fixed beforehand")],
        _randomisation(outline),
        [(outline.blinding, "who is blind to what")],
        _outcomes(outline),
        _statistics(outline),
        [(outline.animals, "species, sex, age and origin of the animals")],
        _procedures(outline),
        [],
    )
    items = []
    for number, (title, parts) in enumerate(zip(ESSENTIAL, said, strict=True), 1):
        text = " ".join(_sentence(part) for part, _ in parts if part)
        missing = tuple(name for part, name in parts if not part)
        items.append(Item(number, title, text or _empty(number), missing))
    return tuple(items)


type Parts = list[tuple[str, str]]
"""Texts, each with the name of what is missing where it is empty."""


def _sentence(text: str) -> str:
    found = text.strip()
    return found if found.endswith((".", "!", "?")) else f"{found}."


def _empty(number: int) -> str:
    return "To be written when the data are in." if number == len(ESSENTIAL) else ""


def _study_design(outline: Outline) -> Parts:
    arms = ", ".join(f"{name} ({units})" for name, units in outline.arms.items())
    return [
        (f"The experimental unit is {_the(outline.unit)}" if outline.unit else "", "the unit"),
        (f"Arms: {arms}" if arms else "", "the arms and their units"),
    ]


def _the(unit: str) -> str:
    """Give a noun with its article, which a person may have written or not."""
    return unit if unit.lower().startswith(("a ", "an ", "the ", "each ")) else f"the {unit}"


def _sample_size(outline: Outline) -> Parts:
    found = outline.replication
    if found is None:
        return [(outline.number_reason, "how the number of units was found")]
    return [
        (f"{found.said} {' '.join(found.design.assumed())}", "the sum"),
        (
            f"The spread is from {outline.replication_source}"
            if outline.replication_source
            else "",
            "where the spread is from",
        ),
    ]


def _randomisation(outline: Outline) -> Parts:
    found, watches = outline.allocation, outline.schedule
    drawn = outline.allocation_said
    if found is not None:
        seed = f"SHA-256 of the seed {found.commitment}."
        drawn = " ".join([f"Units were allocated by {found.method}; {seed}", *found.notes])
    parts = [(drawn, "the allocation")]
    if watches is not None:
        count = len(watches.sessions)
        said = f"The order of {count} session{'' if count == 1 else 's'} was drawn"
        parts.append((f"{said}; SHA-256 of the seed {watches.commitment}", ""))
    return parts


def _outcomes(outline: Outline) -> Parts:
    measured = f"{outline.outcome}, in {outline.outcome_unit}" if outline.outcome_unit else ""
    return [
        (f"Outcome: {measured}" if outline.outcome and measured else "", "outcome and its unit"),
        (
            f"Defined in {outline.ethogram}" if outline.ethogram else "",
            "version of the ethogram or dictionary",
        ),
    ]


def _statistics(outline: Outline) -> Parts:
    return [
        (
            f"Named beforehand: {outline.analysis}" if outline.analysis else "",
            "the analysis named beforehand",
        )
    ]


def _procedures(outline: Outline) -> Parts:
    return [
        (outline.procedures, "what is done, when, where and by whom"),
        (f"Stopping rules: {outline.stopping}" if outline.stopping else "", "stopping rules"),
    ]


@dataclass(frozen=True, slots=True)
class Achieved:
    """One arm, planned against achieved.

    Parameters
    ----------
    arm : str
    planned, achieved : int
        Units.
    """

    arm: str
    planned: int
    achieved: int

    @property
    def said(self) -> str:
        """The row in words."""
        if self.achieved == self.planned:
            return f"{self.arm}: {self.planned}, as planned."
        return f"{self.arm}: {self.achieved} of {self.planned} planned."


def achieved(planned: Mapping[str, int], found: Mapping[str, int]) -> tuple[Achieved, ...]:
    """Set the units of each arm against the plan; an arm that was not planned has 0 there.

    Examples
    --------
    >>> [one.said for one in achieved({"still": 4, "brisk": 4}, {"still": 4, "brisk": 3})]
    ['still: 4, as planned.', 'brisk: 3 of 4 planned.']
    """
    names = [*planned, *(name for name in found if name not in planned)]
    return tuple(Achieved(name, planned.get(name, 0), found.get(name, 0)) for name in names)


def came_of_it(
    planned: Mapping[str, int],
    found: Mapping[str, int],
    *,
    sessions_planned: int = 0,
    sessions_held: int = 0,
    deviations: Sequence[str] = (),
) -> tuple[str, ...]:
    """Say in sentences what became of a plan: numbers, balance, sessions, deviations.

    Parameters
    ----------
    planned, found : mapping of str to int
        Treatment to units.
    sessions_planned, sessions_held : int, default 0
    deviations : sequence of str, optional
        Each with its date and reason.

    Examples
    --------
    >>> came_of_it({"x": 4, "y": 4}, {"x": 4, "y": 3}, sessions_planned=20, sessions_held=19)[-2:]
    ('19 of 20 sessions were held; 1 is missing.', 'No deviation was recorded.')
    """
    rows = achieved(planned, found)
    said = [one.said for one in rows]
    reached = [one.achieved for one in rows]
    was = [one.planned for one in rows]
    if rows and max(reached) - min(reached) > max(was) - min(was):
        said.append("The arms are less even than planned: see whether what was lost is by chance.")
    if sessions_planned:
        lost = sessions_planned - sessions_held
        end = f"; {lost} {'is' if lost == 1 else 'are'} missing" if lost > 0 else ""
        said.append(f"{sessions_held} of {sessions_planned} sessions were held{end}.")
    return (*said, *(deviations or ["No deviation was recorded."]))
