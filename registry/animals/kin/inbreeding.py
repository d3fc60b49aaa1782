"""Inbreeding of every animal of a pedigree, in memory that grows with the animals alone."""

from registry.animals.kin.pedigree import NONE, Pedigree


def inbreeding(pedigree: Pedigree) -> list[float]:
    """Give the coefficient of inbreeding of each animal.

    Parameters
    ----------
    pedigree : Pedigree
        n animals, parents first.

    Returns
    -------
    list of float, length n
        F by place, 0 to 1 (no unit): the probability that both copies of a gene come from one
        copy of one ancestor.

    Notes
    -----
    F of an animal is its parents' kinship, half of their relationship. With A = T D T' (T traces
    genes from ancestor to descendant, D holds what Mendel's draw adds), the relationship of one
    sire with all his mates takes two walks: up through his ancestors, and down through his mates'
    ancestors. A sire's walk needs D of his own ancestors alone, whose F was found at earlier
    sires; so one pass over the sires, eldest first, is enough. Nothing of size n by n is made.

    References
    ----------
    Sargolzaei, M., Iwaisaki, H. & Colleau, J.-J. (2005), J. Anim. Breed. Genet. 122:325-331, an
    improvement on Meuwissen, T. H. E. & Luo, Z. (1992), Genet. Sel. Evol. 24:305-313.

    Examples
    --------
    >>> from registry.animals.kin.pedigree import Parents
    >>> sibs = {"a": Parents("ma", "pa"), "b": Parents("ma", "pa"), "c": Parents("a", "b")}
    >>> line = Pedigree.of(sibs)
    >>> inbreeding(line)[line.places["c"]]
    0.25
    """
    found = [0.0] * len(pedigree)
    work = ([0.0] * (len(pedigree) + 1), [0.0] * (len(pedigree) + 1))
    young_of = _young_by_sire(pedigree)
    for sire in sorted(young_of):
        young = young_of[sire]
        mates = {pedigree.dams[one] for one in young}
        related = _relate(pedigree, found, sire, mates, work)
        for one in young:
            found[one] = related[pedigree.dams[one]] / 2
    return found


def draws(pedigree: Pedigree, inbred: list[float]) -> list[float]:
    """Give what Mendel's draw adds to each animal: the diagonal of D in A = T D T'.

    Parameters
    ----------
    pedigree : Pedigree
        n animals.
    inbred : list of float, length n
        F of each.

    Returns
    -------
    list of float, length n
        1 for a founder, 3/4 - F/4 with one known parent, 1/2 - (F dam + F sire)/4 with two.

    References
    ----------
    Henderson, C. R. (1976), Biometrics 32:69-83; Quaas, R. L. (1976), Biometrics 32:949-953.
    """
    return [_draw(pedigree, inbred, place) for place in range(len(pedigree))]


def _draw(pedigree: Pedigree, inbred: list[float], place: int) -> float:
    share = 1.0
    for parent in (pedigree.dams[place], pedigree.sires[place]):
        if parent != NONE:
            share -= 0.25 * (1.0 + inbred[parent])
    return share


def _young_by_sire(pedigree: Pedigree) -> dict[int, list[int]]:
    """Give the young whose parents are both known, by sire."""
    young: dict[int, list[int]] = {}
    for place, (dam, sire) in enumerate(zip(pedigree.dams, pedigree.sires, strict=True)):
        if NONE not in {dam, sire}:
            young.setdefault(sire, []).append(place)
    return young


def _relate(
    pedigree: Pedigree,
    inbred: list[float],
    sire: int,
    mates: set[int],
    work: tuple[list[float], ...],
) -> dict[int, float]:
    """Give the relationship (twice the kinship) of a sire with each of his mates.

    `work` is two lists of n + 1 zeros, and is left so: the last place is that of an unknown parent.
    """
    dams, sires = pedigree.dams, pedigree.sires
    share, related = work
    # From the sire up: each ancestor's share of his genes, then weighed by its own draw.
    up = pedigree.ancestors((sire,))
    share[sire] = 1.0
    for place in reversed(up):
        half = share[place] / 2
        share[dams[place]] += half
        share[sires[place]] += half
        share[place] *= _draw(pedigree, inbred, place)
    share[NONE] = 0.0
    # Down to the mates. Who is older than all his ancestors has none of his genes.
    down = _ancestors_since(pedigree, mates, up[0])
    for place in down:
        related[place] = share[place] + (related[dams[place]] + related[sires[place]]) / 2
    told = {mate: related[mate] for mate in mates}
    for place in up:
        share[place] = 0.0
    for place in down:
        related[place] = 0.0
    return told


def _ancestors_since(pedigree: Pedigree, chosen: set[int], eldest: int) -> list[int]:
    dams, sires = pedigree.dams, pedigree.sires
    found = {place for place in chosen if place >= eldest}
    todo = list(found)
    while todo:
        place = todo.pop()
        parent = dams[place]
        if parent >= eldest and parent not in found:
            found.add(parent)
            todo.append(parent)
        parent = sires[place]
        if parent >= eldest and parent not in found:
            found.add(parent)
            todo.append(parent)
    return sorted(found)
