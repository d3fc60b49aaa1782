"""The child that analyses: options as JSON come in, one answer goes out.

Started as ``python -m archive.analysis.asked.child``; its limits are set before it reads a byte of
a table.
"""

import json
import sys
from pathlib import Path
from typing import Any

from archive.analysis.asked.kinds import Request
from archive.analysis.asked.room import AnalysisRoom
from archive.analysis.asked.running import run, told
from registry.errors import Refusal
from registry.guarded.child import OUT_OF_MEMORY, confine, tell
from registry.orphans import die_with


def answered(options: dict[str, Any]) -> dict[str, Any]:
    """Run the analysis that the options name, and give what was found or the refusal."""
    try:
        tables = {name: Path(path) for name, path in options["tables"].items()}
        return told(run(Request(**options["request"]), tables, options["facts"]))
    except Refusal as refused:
        return {"refused": {"kind": type(refused).__name__, **refused.as_dict()}}


def main() -> int:
    """Answer the options on standard input."""
    options = json.load(sys.stdin)
    die_with(options["parent"])
    confine(AnalysisRoom())
    try:
        tell(answered(options))
    except MemoryError:
        return OUT_OF_MEMORY
    return 0


if __name__ == "__main__":
    sys.exit(main())
