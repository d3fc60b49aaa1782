"""The fast way: a compiled kernel proves what is good, frictionless judges the rest.

Imported only where a table is checked (``archive.engine.way``), since numba is slow to load.
"""

import hashlib
from pathlib import Path
from typing import Any

from numba import config


def kernel_name() -> str:
    """Name the compiled kernel after its sources.

    numba looks at the file of a function alone, not at those that it calls from other files, and
    would go on with a kernel that no longer is what the sources say.
    """
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return f"kernel-{digest.hexdigest()[:16]}"


_settings: Any = config  # numba sets these at run time; its stubs leave them out
KERNEL_FOLDER = Path(_settings.CACHE_DIR or Path(__file__).with_name("__pycache__")) / kernel_name()
_settings.CACHE_DIR = str(KERNEL_FOLDER)
