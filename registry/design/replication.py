"""What is replicated in a plan: experimental units, not animals."""

from collections.abc import Sequence
from dataclasses import dataclass

SOURCES = (
    "Hurlbert (1984), Ecological Monographs 54, 187–211; "
    "Lazic, Clarke-Williams and Munafò (2018), PLoS Biology 16, e2005282"
)


@dataclass(frozen=True, slots=True)
class Treatment:
    """One treatment or group of a plan.

    Parameters
    ----------
    name : str
    units : int
        Experimental units: what the treatment is given to, by itself.
    animals : int
        Animals or eggs in those units together.
    """

    name: str
    units: int
    animals: int


@dataclass(frozen=True, slots=True)
class Caution:
    """Something in a design that its reader must weigh.

    Parameters
    ----------
    word : str
        The trade's word for it.
    said : str
        What it means here, in a sentence.
    source : str
    """

    word: str
    said: str
    source: str


def replication_cautions(treatments: Sequence[Treatment]) -> tuple[Caution, ...]:
    """Give the cautions on how a plan replicates its treatments.

    Parameters
    ----------
    treatments : sequence of Treatment

    Returns
    -------
    tuple of Caution
        Empty where each treatment stands on two units or more, one animal in each.

    Notes
    -----
    One unit a treatment cannot tell the treatment from the unit, however many animals are in it.
    A design in which one unit goes through every treatment in turn (a single-animal ABAB)
    replicates in time instead; the caution stands all the same, for its reader to weigh.

    References
    ----------
    Hurlbert, S. H. (1984). Pseudoreplication and the design of ecological field experiments.
    Ecological Monographs 54, 187–211.
    Lazic, S. E., Clarke-Williams, C. J. and Munafò, M. R. (2018). What exactly is “N” in cell
    culture and animal experiments? PLoS Biology 16, e2005282: the sample size is the number of
    experimental units.

    Examples
    --------
    >>> [one.word for one in replication_cautions([Treatment("brisk", 1, 12)])]
    ['pseudoreplicated', 'units, not animals']
    >>> replication_cautions([Treatment("still", 4, 4), Treatment("brisk", 4, 4)])
    ()
    """
    found = [
        Caution(
            "pseudoreplicated",
            f"“{one.name}” stands on one experimental unit, so what the unit does cannot be told "
            f"from what the treatment does, whatever the number of animals in it ({one.animals}).",
            SOURCES,
        )
        for one in treatments
        if one.units == 1
    ]
    units, animals = (
        sum(one.units for one in treatments),
        sum(one.animals for one in treatments),
    )
    if 0 < units < animals:
        found.append(
            Caution(
                "units, not animals",
                f"{animals} animals in {units} experimental units count as {units}, not as "
                f"{animals}: animals of one unit are measurements of that unit.",
                SOURCES,
            )
        )
    return tuple(found)
