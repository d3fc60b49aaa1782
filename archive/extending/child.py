"""The child that copies columns: options as JSON come in, one answer goes out.

Started as ``python -m archive.extending.child`` by `archive.columnar`; its limits are set before it
reads a byte of a table. The libraries that it needs are loaded nowhere else.
"""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from archive.extending.columns import write_columns
from archive.extending.room import CopyRoom
from registry.guarded.child import answer_once


def main() -> int:
    """Copy the columns of one table as the options on standard input say."""
    return answer_once(answer, lambda _options: CopyRoom())


def answer(options: Mapping[str, Any]) -> dict[str, Any]:
    """Copy the columns of one table, and tell how many rows it has."""
    rows = write_columns(Path(options["source"]), Path(options["target"]), options["resource"])
    return {"rows": rows}


if __name__ == "__main__":
    sys.exit(main())
