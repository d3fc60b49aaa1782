"""Eight bytes at a time, from wherever they begin."""

from typing import Any

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import types
from numba.extending import intrinsic
from numba.np.arrayobj import make_array

from archive.engine.fast.compiling import inlined

PAD = 8
"""How many bytes must follow the last one that is looked at."""


def _word_at(typing: Any, data: Any, at: Any) -> Any:
    """Load the eight bytes of `data` that begin at `at`, the first one lowest.

    Notes
    -----
    The machine's lowest byte must come first, as on all those for which the compiler is published.
    """

    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        array = make_array(signature.args[0])(context, builder, values[0])  # type: ignore[no-untyped-call]
        pointer = builder.gep(array.data, [values[1]])
        word = builder.load(builder.bitcast(pointer, ir.IntType(64).as_pointer()))
        word.align = 1
        return word

    return types.uint64(data, types.int64), generate


def _first_byte(typing: Any, marks: Any) -> Any:
    """Give the place, 0 to 7, of the lowest marked byte of a word that has one."""

    def generate(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        bits = builder.cttz(values[0], ir.Constant(ir.IntType(1), 1))
        return builder.lshr(bits, ir.Constant(ir.IntType(64), 3))

    return types.int64(marks), generate


word_at: Any = intrinsic(_word_at)
first_byte: Any = intrinsic(_first_byte)


@inlined
def marked(word, sign):  # type: ignore[no-untyped-def]
    """Mark, by its highest bit, the lowest byte of a word that is `sign`; perhaps higher ones too.

    References
    ----------
    Anderson, S. E. Bit Twiddling Hacks, "Determine if a word has a zero byte".
    """
    rest = word ^ (np.uint64(sign) * np.uint64(0x0101010101010101))
    return (rest - np.uint64(0x0101010101010101)) & ~rest & np.uint64(0x8080808080808080)


@inlined
def tail_at(data, at, count):  # type: ignore[no-untyped-def]
    """Load the `count` bytes from `at` on, 0 to 7 of them, the rest being 0."""
    return word_at(data, at) & ((np.uint64(1) << np.uint64(8 * count)) - np.uint64(1))
