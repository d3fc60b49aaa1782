"""Which way a table is read: fast, by a compiled kernel, or slow, by frictionless row after row.

Both give the same findings. The slow way is taken where the kernel is not installed, where a table
is so small that loading the kernel would take longer, and where a table has what the kernel does
not know; the last is said in the report.
"""

import importlib
import os
import resource
from pathlib import Path
from types import ModuleType
from typing import Any

SWITCH = "STRANDLINE_ENGINE"
"""The environment's word on it: "fast" for small tables too, "slow" for none."""

SMALL_BYTES = 300_000
LEAST_MEMORY = 1 << 30
"""Bytes of addresses that the compiler and its tables may ask for; most is never touched."""

FAR_BYTES = 300_000
"""From this size on, the keys of another table are digested rather than kept."""


def kernel(part: str = "judging") -> ModuleType | None:
    """Load the fast way; None where it is not installed, switched off, or has too little memory."""
    most, _ = resource.getrlimit(resource.RLIMIT_AS)
    if os.environ.get(SWITCH) == "slow" or -1 < most < LEAST_MEMORY:
        return None
    try:
        return importlib.import_module(f"archive.engine.fast.{part}")
    except ImportError:
        return None


def is_worth_it(size: int) -> bool:
    """Whether a table of so many bytes is large enough for the kernel to be loaded."""
    return os.environ.get(SWITCH) == "fast" or size >= SMALL_BYTES


def size_of(table: Any) -> int:
    """Give the size of a table's file in bytes, 0 where there is none."""
    path = Path(table.normpath) if table.path and table.scheme == "file" else None
    return path.stat().st_size if path is not None and path.is_file() else 0
