"""Random numbers that a recorded seed gives again."""

import numpy as np
from numpy.typing import NDArray
from scipy import special

from registry.design import bounds

type Numbers = NDArray[np.float64]

STREAM = "PCG64 words, first 53 bits, inverse normal"
"""How numbers are made of a seed; stands in every report beside the seed."""


class Chance:
    """Uniform, normal and Poisson numbers from a seed.

    Parameters
    ----------
    seed : int
        0 to ten million.

    Notes
    -----
    The words of PCG64 are fixed by its maker; what numpy's methods make of them is not (NEP 19).
    So uniforms are made here, of the first 53 bits of each word, and the rest by inversion.

    Examples
    --------
    >>> bool((Chance(1).normal(3) == Chance(1).normal(3)).all())
    True
    """

    def __init__(self, seed: int) -> None:
        self._bits = np.random.PCG64(bounds.whole("seed", seed, 0, "seed"))

    def uniform(self, *shape: int) -> Numbers:
        """Give numbers above 0 and below 1."""
        words = self._bits.random_raw(int(np.prod(shape)))
        return np.asarray(((words >> np.uint64(11)) + 0.5) * 2.0**-53).reshape(shape)

    def normal(self, *shape: int) -> Numbers:
        """Give standard normal numbers."""
        return np.asarray(special.ndtri(self.uniform(*shape)))

    def poisson(self, means: Numbers) -> Numbers:
        """Give a count for each mean above 0."""
        below = special.pdtrik(self.uniform(*means.shape), means)
        return np.asarray(np.maximum(0.0, np.ceil(below)))

    def below(self, n: int, *shape: int) -> NDArray[np.intp]:
        """Give whole numbers from 0 to n − 1."""
        return np.asarray((self.uniform(*shape) * n).astype(np.intp))
