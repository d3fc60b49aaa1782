"""How the kernel's functions are compiled: kept on disk, and free of Python's own lock."""

from collections.abc import Callable
from functools import partial
from typing import Any

from numba import njit

type Compiled = Callable[..., Any]

_bare: Any = partial(njit, cache=True, nogil=True, _nrt=False)  # numba's stubs leave _nrt out


def bare(function: Compiled) -> Compiled:
    """Compile a function that allocates nothing, without numba's counting of references."""
    compiled: Compiled = _bare()(function)
    return compiled


def inlined(function: Compiled) -> Compiled:
    """Compile a small function that allocates nothing into whoever calls it."""
    compiled: Compiled = _bare(forceinline=True)(function)
    return compiled
