"""How many breeders, and how many independent animals, a related set is worth."""

from collections.abc import Sequence
from math import sqrt, sumprod

MOST_IN_SET = 1_000
"""Animals in one chosen set: a second of work at that number."""


def effective_breeders(males: int, females: int) -> float:
    """Give the effective number of breeders when males and females are unequal.

    Parameters
    ----------
    males, females : int
        Those that breed, 0 or more.

    Returns
    -------
    float
        4 Nm Nf / (Nm + Nf) animals; 0 where one sex is absent. Inbreeding rises by about
        1 / (2 Ne) a generation.

    Raises
    ------
    ValueError
        When a number is negative.

    References
    ----------
    Wright, S. (1931), Genetics 16:97-159.

    Examples
    --------
    >>> effective_breeders(2, 6)
    6.0
    """
    if males < 0 or females < 0:
        raise ValueError("breeders are counted from 0")
    return 4 * males * females / (males + females) if males and females else 0.0


def effective_size(kinship: Sequence[Sequence[float]], heritability: float) -> float:
    """Give how many unrelated animals a related set is worth to the mean of a trait.

    Parameters
    ----------
    kinship : m by m, symmetric
        As `kinship_among` gives it, 1,000 by 1,000 at most.
    heritability : float
        h2, 0 to 1: the share of the trait's variance that is passed on. At 0 the set is worth all
        its animals, whoever their parents are.

    Returns
    -------
    float
        1' V^-1 1 with V = 2 K h2 + (1 - h2) I, V's diagonal as it stands (an inbred animal varies
        more); about m for unrelated animals.

    Raises
    ------
    ValueError
        When h2 is outside 0 to 1, the set is too large, or two animals are copies of each other
        and h2 is 1.

    Notes
    -----
    For m equally related animals this is m / (1 + (m - 1) 2 K h2), Kish's design effect with the
    intraclass correlation 2 K h2. Only shared descent is counted; a shared tank is not.

    References
    ----------
    Kish, L. (1965), Survey Sampling, section 5.4, for the closed form; the rest follows from
    generalised least squares.

    Examples
    --------
    >>> sibs = [[0.5 if i == j else 0.25 for j in range(6)] for i in range(6)]
    >>> round(effective_size(sibs, 0.4), 9)
    3.0
    """
    size = len(kinship)
    if not 0 <= heritability <= 1:
        raise ValueError("a heritability lies between 0 and 1")
    if size > MOST_IN_SET:
        raise ValueError(f"a set has {MOST_IN_SET:,} animals at most")
    # Cholesky's factor L row by row, and z = L^-1 1 with it: 1' V^-1 1 = z' z.
    rows: list[list[float]] = []
    solved: list[float] = []
    for place, kin in enumerate(kinship):
        row: list[float] = []
        for earlier in range(place):
            known = sumprod(row, rows[earlier][:earlier])
            row.append((2 * heritability * kin[earlier] - known) / rows[earlier][earlier])
        rest = 2 * heritability * kin[place] + 1 - heritability - sumprod(row, row)
        if rest <= 1e-12:
            raise ValueError("two of the set are copies of each other, and h2 is 1")
        pivot = sqrt(rest)
        solved.append((1 - sumprod(row, solved)) / pivot)
        rows.append([*row, pivot])
    return sumprod(solved, solved)
