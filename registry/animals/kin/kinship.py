"""Kinship: of a chosen set in a large pedigree, of everyone in a small one, and its mean."""

from array import array
from collections.abc import Hashable, Sequence

from registry.animals.kin.inbreeding import draws, inbreeding
from registry.animals.kin.pedigree import NONE, Pedigree

MOST_IN_MATRIX = 3_000
"""Animals of which the full matrix is made: 36 MB at that number."""


def kinship_among(pedigree: Pedigree, chosen: Sequence[Hashable]) -> list[list[float]]:
    """Give the kinship of each two of a chosen set.

    Parameters
    ----------
    pedigree : Pedigree
        Whatever its size; only the ancestors of the chosen are looked at.
    chosen : sequence of hashable, length m
        Names in the pedigree.

    Returns
    -------
    list of m lists of m floats
        Kinship, 0 to 1; of an animal with itself (1 + F) / 2.

    Raises
    ------
    KeyError
        When one of the chosen is not in the pedigree.

    Notes
    -----
    A column of A = 2 x kinship solves A^-1 x = e. Henderson's sparse inverse factors as
    (I - P)' D^-1 (I - P), where a row of P holds a half for each parent; so the solution is one
    walk up the ancestors, a weighing by D, and one walk down: 2 n steps a column, and no matrix.

    References
    ----------
    Henderson, C. R. (1976), Biometrics 32:69-83; Colleau, J.-J. (2002), Genet. Sel. Evol.
    34:409-421.

    Examples
    --------
    >>> from registry.animals.kin.pedigree import Parents
    >>> line = Pedigree.of({"a": Parents("ma", "pa"), "b": Parents("ma", "pa")})
    >>> kinship_among(line, ["a", "b"])
    [[0.5, 0.25], [0.25, 0.5]]
    """
    line = pedigree.down_to(chosen)
    weights = draws(line, inbreeding(line))
    places = [line.places[name] for name in chosen]
    rows = []
    for place in places:
        loads = [0.0] * len(line)
        loads[place] = 0.5
        column = _relationship_times(line, weights, loads)
        rows.append([column[other] for other in places])
    return rows


def mean_kinship(pedigree: Pedigree, living: Sequence[Hashable]) -> list[float]:
    """Give the mean kinship of each living animal with all the living, itself among them.

    Parameters
    ----------
    pedigree : Pedigree
        The living and their ancestors.
    living : sequence of hashable, length m > 0
        Names in the pedigree.

    Returns
    -------
    list of float, length m
        0 to 1; low is rare blood. One less the mean of them is the gene diversity kept.

    Raises
    ------
    ValueError
        When nobody lives.

    Notes
    -----
    All m means are one product of the kinship matrix with 1/m, so one walk up and one down.

    References
    ----------
    Ballou, J. D. & Lacy, R. C. (1995), in: Population Management for Survival and Recovery,
    pp. 76-111 (from memory).
    """
    if not living:
        raise ValueError("the mean kinship of nobody")
    line = pedigree.down_to(living)
    loads = [0.0] * len(line)
    for name in living:
        loads[line.places[name]] += 0.5 / len(living)
    means = _relationship_times(line, draws(line, inbreeding(line)), loads)
    return [means[line.places[name]] for name in living]


def _relationship_times(line: Pedigree, weights: list[float], loads: list[float]) -> list[float]:
    """Multiply the relationship matrix with a column, without making it: T D T' x."""
    dams, sires = line.dams, line.sires
    held = list(loads)
    for place in range(len(held) - 1, -1, -1):
        half = held[place] / 2
        if half:
            if dams[place] != NONE:
                held[dams[place]] += half
            if sires[place] != NONE:
                held[sires[place]] += half
    held.append(0.0)  # the place of a parent that is not known
    for place, weight in enumerate(weights):
        held[place] = held[place] * weight + (held[dams[place]] + held[sires[place]]) / 2
    held.pop()
    return held


def kinship_matrix(pedigree: Pedigree) -> list[array[float]]:
    """Give the kinship of everyone with everyone, by the tabular method.

    Parameters
    ----------
    pedigree : Pedigree
        n animals, 3,000 at most.

    Returns
    -------
    list of n arrays
        The lower triangle: row i holds the kinship of i with 0 to i.

    Raises
    ------
    ValueError
        When there are more than 3,000.

    Notes
    -----
    The kinship of an animal with an elder is the mean of its parents' with that elder; with
    itself it is a half, and half of its parents' with each other.

    References
    ----------
    Emik, L. O. & Terrill, C. E. (1949), J. Hered. 40:51-55.
    """
    if len(pedigree) > MOST_IN_MATRIX:
        raise ValueError(f"the full matrix is made of {MOST_IN_MATRIX:,} animals at most")
    rows: list[array[float]] = []
    for place, (dam, sire) in enumerate(zip(pedigree.dams, pedigree.sires, strict=True)):
        halves = [
            [value / 2 for value in _row(rows, parent)] for parent in (dam, sire) if parent != NONE
        ]
        row = array("d", map(sum, zip(*halves, strict=True)) if halves else [0.0] * place)
        both = rows[max(dam, sire)][min(dam, sire)] if NONE not in {dam, sire} else 0.0
        row.append((1.0 + both) / 2)
        rows.append(row)
    return rows


def _row(rows: list[array[float]], place: int) -> list[float]:
    """Give the kinship of one with all who have a row yet."""
    return [*rows[place], *[later[place] for later in rows[place + 1 :]]]
