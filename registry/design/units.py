"""The experimental unit, named by three questions; one unit in an arm is no replication."""

from collections.abc import Mapping
from dataclasses import dataclass

from registry.design import bounds
from registry.design.replication import SOURCES, Caution


@dataclass(frozen=True, slots=True)
class Candidate:
    """What may be the experimental unit, with the answers to the three questions.

    Parameters
    ----------
    name : str
        What it is: animal, tank, enclosure, egg string, session.
    is_randomised_alone : bool
        Is each one assigned to its treatment by a draw of its own?
    is_treated_alone : bool
        Is the treatment applied to each one independently of the others?
    is_uninfluenced : bool
        Does none of them influence another: no shared water, no company, no sight of each other?
    """

    name: str
    is_randomised_alone: bool
    is_treated_alone: bool
    is_uninfluenced: bool

    @property
    def is_unit(self) -> bool:
        """Whether all three answers are yes."""
        return self.is_randomised_alone and self.is_treated_alone and self.is_uninfluenced

    @property
    def doubts(self) -> tuple[str, ...]:
        """Why it is not the unit; empty where it is."""
        asked = (
            (self.is_randomised_alone, "is not randomised by itself"),
            (self.is_treated_alone, "does not get its treatment by itself"),
            (self.is_uninfluenced, "is influenced by others"),
        )
        name = self.name.removeprefix("a ").removeprefix("an ").removeprefix("the ")
        return tuple(f"One {name} {why}." for yes, why in asked if not yes)


def unit_of(*candidates: Candidate) -> Candidate:
    """Give the experimental unit: the smallest thing of which all three answers are yes.

    Parameters
    ----------
    *candidates : Candidate
        From the smallest to the largest: animal, tank, room.

    Raises
    ------
    Unsound
        Where none of them is; the refusal says why of each.

    References
    ----------
    Lazic, S. E., Clarke-Williams, C. J. and Munafò, M. R. (2018). What exactly is “N” in cell
    culture and animal experiments? PLoS Biology 16, e2005282, figure 3.

    Examples
    --------
    >>> fish = Candidate("lumpfish", False, False, False)
    >>> unit_of(fish, Candidate("tank", True, True, True)).name
    'tank'
    """
    for one in candidates:
        if one.is_unit:
            return one
    return bounds.refuse(
        "unit",
        "None of these can be the experimental unit.",
        " ".join(doubt for one in candidates for doubt in one.doubts)
        or "Nothing was named that a treatment could be given to.",
        "Name something larger, such as the tank or the room, or change how the treatment is "
        "given so that each one gets it by itself.",
    )


def replicated(units: Mapping[str, int]) -> None:
    """Refuse treatments that do not stand on two units or more.

    Parameters
    ----------
    units : mapping of str to int
        Treatment to its number of distinct experimental units.

    Raises
    ------
    Unsound
        Where a treatment has fewer than two.

    References
    ----------
    Hurlbert, S. H. (1984). Ecological Monographs 54, 187–211.

    Examples
    --------
    >>> replicated({"still": 4, "brisk": 4})
    """
    bounds.whole("arms", len(units), 2, "number of treatments")
    few = [f"“{name}” has {count}" for name, count in units.items() if count < 2]
    if few:
        bounds.refuse(
            "units",
            "This is no replication.",
            f"Each treatment needs two experimental units or more, and {', '.join(few)}. However "
            "many animals are in one unit, the treatment cannot be told from the unit.",
            "Take more units, or fewer treatments, or let each unit go through all treatments in "
            "an order that is drawn.",
        )


def possible_arms(arms: int, units: int) -> int:
    """Give the units of each arm when units are dealt evenly, or refuse more arms than they bear.

    Examples
    --------
    >>> possible_arms(2, 9)
    4
    """
    bounds.whole("arms", arms, 2, "number of treatments")
    bounds.whole("units", units, 1, "number of units")
    if units < 2 * arms:
        bounds.refuse(
            "arms",
            f"{units} units do not bear {arms} treatments.",
            "Each treatment needs two units or more to show how much units differ.",
            f"Take at most {units // 2} treatments, or find more units."
            if units >= 4
            else "Let each unit go through all treatments in an order that is drawn.",
        )
    return units // arms


def shared_tank(animals: int, tanks: int) -> tuple[Caution, ...]:
    """Warn where animals are counted that live in fewer tanks.

    Examples
    --------
    >>> shared_tank(80, 8)[0].word
    'units, not animals'
    """
    if animals <= tanks:
        return ()
    return (
        Caution(
            "units, not animals",
            f"{animals} animals in {tanks} tanks count as {tanks} where the treatment is given to "
            "tanks.",
            SOURCES,
        ),
    )
