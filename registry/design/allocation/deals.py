"""Units dealt to treatments: all at once, within blocks or strata, or as they arrive."""

from collections.abc import Mapping, Sequence

from registry.design import bounds
from registry.design.allocation.base import Allocation, Place, asked, few_units, named
from registry.design.draws import Stream


def complete(units: Sequence[str], arms: Sequence[str], stream: Stream) -> Allocation:
    """Deal all units to the treatments at once, as evenly as can be.

    Parameters
    ----------
    units, arms : sequence of str
        Names, each once; two treatments or more.
    stream : Stream
        Fresh from its seed.

    Notes
    -----
    The units are shuffled and dealt in runs; which treatments get one more is drawn first.

    Examples
    --------
    >>> found = complete(["T1", "T2", "T3", "T4"], ["still", "brisk"], Stream(bytes(range(32))))
    >>> found.counts
    {'brisk': 2, 'still': 2}
    """
    found, treatments = asked(units, arms)
    extra = stream.shuffled(treatments)[: len(found) % len(treatments)]
    given = _dealt(found, treatments, extra, stream)
    places = tuple(Place(one, given[one]) for one in found)
    return _closed("complete randomisation", places, stream, ())


def _dealt(
    units: Sequence[str], arms: Sequence[str], extra: Sequence[str], stream: Stream
) -> dict[str, str]:
    each = len(units) // len(arms)
    labels = [arm for arm in arms for _ in range(each + (arm in extra))]
    return dict(zip(stream.shuffled(units), labels, strict=True))


def _closed(
    method: str, places: tuple[Place, ...], stream: Stream, notes: tuple[str, ...]
) -> Allocation:
    found = Allocation(method, places, stream.commitment, notes)
    return Allocation(method, places, stream.commitment, (*notes, *few_units(found.counts)))


def blocked(
    blocks: Mapping[str, Sequence[str]],
    arms: Sequence[str],
    stream: Stream,
    *,
    method: str = "randomised blocks",
) -> Allocation:
    """Deal the units of each block or stratum to the treatments: shelves, days, sexes, clutches.

    Parameters
    ----------
    blocks : mapping of str to sequence of str
        Block to its units; no unit in two.
    arms : sequence of str
    stream : Stream
    method : str, default "randomised blocks"
        "stratified randomisation" where the blocks are strata.

    Notes
    -----
    Where a block does not hold every treatment equally often, the ones that get one more go round
    in a drawn order from block to block, so that the totals differ by one at the most.

    Examples
    --------
    >>> strata = {"male": ["a", "b", "c", "d"], "female": ["e", "f", "g", "h"]}
    >>> found = blocked(strata, ["x", "y"], Stream(bytes(32)))
    >>> sorted((one.block, one.arm) for one in found.places)[:4]
    [('female', 'x'), ('female', 'x'), ('female', 'y'), ('female', 'y')]
    """
    names = named("blocks", blocks, 1, "blocks")
    _, treatments = asked([unit for one in names for unit in blocks[one]], arms)
    rota, turn = stream.shuffled(treatments), 0
    places: list[Place] = []
    uneven: list[str] = []
    for name in names:
        units = list(blocks[name])
        left = len(units) % len(treatments)
        extra = [rota[(turn + one) % len(rota)] for one in range(left)]
        turn += left
        given = _dealt(units, treatments, extra, stream)
        places += [Place(one, given[one], name) for one in units]
        uneven += [name] if left else []
    notes = ["The analysis takes the blocks into account."]
    if uneven:
        notes.append(
            f"Not every treatment stands equally often in {', '.join(uneven)}: the number of units "
            f"there is no multiple of {len(treatments)}."
        )
    return _closed(method, tuple(places), stream, tuple(notes))


def permuted(
    units: Sequence[str], arms: Sequence[str], stream: Stream, *, sizes: Sequence[int] = (2, 4, 6)
) -> Allocation:
    """Deal units in the order in which they arrive, in blocks whose sizes are drawn too.

    Parameters
    ----------
    units : sequence of str
        In the order of arrival.
    arms : sequence of str
    stream : Stream
    sizes : sequence of int, default (2, 4, 6)
        Sizes of blocks, each a multiple of the number of treatments.

    Notes
    -----
    At no moment does a treatment lag behind another by more than the largest block over the number
    of treatments. Sizes are drawn so that the last of a block cannot be foretold.

    Examples
    --------
    >>> found = permuted([f"egg {n}" for n in range(8)], ["x", "y"], Stream(bytes(32)))
    >>> len(found.places)
    8
    """
    found, treatments = asked(units, arms)
    for one in sizes:
        if one < len(treatments) or one % len(treatments):
            bounds.refuse(
                "sizes",
                "A block holds every treatment equally often.",
                f"A size of {one} is no multiple of {len(treatments)}.",
                f"Give multiples of {len(treatments)}.",
            )
    bounds.whole("sizes", len(sizes), 1, "number of block sizes")
    labels: list[tuple[str, str]] = []
    block = 0
    while len(labels) < len(found):
        block += 1
        size = sizes[stream.below(len(sizes))]
        row = [arm for arm in treatments for _ in range(size // len(treatments))]
        labels += [(arm, str(block)) for arm in stream.shuffled(row)]
    places = tuple(Place(unit, arm, name) for unit, (arm, name) in zip(found, labels, strict=False))
    return _closed(
        "permuted blocks", places, stream, ("Keep the sizes of the blocks from who enrols.",)
    )
