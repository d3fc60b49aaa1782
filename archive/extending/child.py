"""The child that copies columns: options as JSON come in, one answer goes out.

Started as ``python -m archive.extending.child`` by `archive.columnar`; its limits are set before it
reads a byte of a table. The libraries that it needs are loaded nowhere else.
"""

import json
import sys
from pathlib import Path
from typing import Any

from archive.extending.columns import write_columns
from archive.extending.room import CopyRoom
from registry.errors import Refusal
from registry.guarded.child import OUT_OF_MEMORY, confine, tell
from registry.orphans import die_with


def main() -> int:
    """Copy the columns of one table as the options on standard input say."""
    options = json.load(sys.stdin)
    die_with(options["parent"])
    confine(CopyRoom())
    told: dict[str, Any]
    try:
        rows = write_columns(Path(options["source"]), Path(options["target"]), options["resource"])
        told = {"rows": rows}
    except Refusal as refused:
        told = {"refused": {"kind": type(refused).__name__, **refused.as_dict()}}
    except MemoryError:
        return OUT_OF_MEMORY
    tell(told)
    return 0


if __name__ == "__main__":
    sys.exit(main())
