"""How long kinship takes, and how it grows from 5,000 animals to 50,000.

The other side of inbreeding at 5,000 is the whole matrix by numpy, filled row by row; that of
50,000 is ten times what 5,000 took, so that a ratio of 1 is growth in a straight line.
"""

import random
import time
import tracemalloc
from collections.abc import Callable, Sequence

import numpy as np

from registry.animals.kin import (
    Parents,
    Pedigree,
    effective_size,
    inbreeding,
    kinship_among,
    kinship_matrix,
    mean_kinship,
)
from tests.benchmarks._said import say

GENERATIONS = 10
CLUTCH = 4


def line_of(number: int) -> Pedigree:
    """Give ten generations bred at random: clutches of four, one male to nine females, seeded."""
    chance = random.Random(20261130)
    born: dict[int, Parents] = {}
    last: Sequence[int] = ()
    for time_ in range(GENERATIONS):
        here = range(time_ * number // GENERATIONS, (time_ + 1) * number // GENERATIONS)
        males, females = last[: len(last) // 10], last[len(last) // 10 :]
        for n in here:
            if n % CLUTCH == 0 or n == here[0]:
                pair = (chance.choice(females), chance.choice(males)) if last else (None, None)
            born[n] = Parents(*pair)
        last = here
    return Pedigree.of(born)


def by_numpy(line: Pedigree) -> float:
    """Give the highest inbreeding from the full table."""
    kin = np.zeros((len(line), len(line)))
    for place, (dam, sire) in enumerate(zip(line.dams, line.sires, strict=True)):
        both = 0.0
        if dam >= 0:
            kin[place, :place] = (kin[dam, :place] + kin[sire, :place]) / 2
            kin[:place, place] = kin[place, :place]
            both = kin[dam, sire]
        kin[place, place] = (1 + both) / 2
    return float(2 * kin.diagonal().max() - 1)


def timed(asked: Callable[[], object]) -> float:
    """Give the seconds that something takes."""
    began = time.perf_counter()
    asked()
    return time.perf_counter() - began


def main() -> None:
    """Measure each case once; they take seconds."""
    small, large = line_of(5_000), line_of(50_000)
    took = timed(lambda: inbreeding(small))
    say("inbreeding of 5,000", took, timed(lambda: by_numpy(small)), "s")
    say("inbreeding of 50,000", timed(lambda: inbreeding(large)), 10 * took, "s")
    tracemalloc.start()
    inbreeding(large)
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    say("memory of inbreeding of 50,000", peak, 50_000**2 * 8 / 2e6, "MB")
    few = line_of(3_000)
    say("matrix of 3,000", timed(lambda: kinship_matrix(few)), timed(lambda: by_numpy(few)), "s")
    chosen = large.names[-40:]
    took = timed(lambda: kinship_among(large, chosen))
    say("kinship among 40 of 50,000", took, timed(lambda: inbreeding(large)), "s")
    took = timed(lambda: mean_kinship(large, large.names[-5_000:]))
    say("mean kinship of 5,000 living of 50,000", took, timed(lambda: inbreeding(large)), "s")
    kin = kinship_among(large, large.names[-300:])
    with_numpy = timed(lambda: np.linalg.inv(0.8 * np.array(kin) + 0.6 * np.eye(300)).sum())
    say("effective size of 300", timed(lambda: effective_size(kin, 0.4)), with_numpy, "s")


if __name__ == "__main__":
    main()
