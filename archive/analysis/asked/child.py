"""The child that analyses: options as JSON come in, one answer goes out.

Started as ``python -m archive.analysis.asked.child``; its limits are set before it reads a byte of
a table.
"""

import sys
from pathlib import Path
from typing import Any

from archive.analysis.asked.kinds import Request
from archive.analysis.asked.room import AnalysisRoom
from archive.analysis.asked.running import run, told
from registry.errors import Refusal
from registry.guarded.child import answer_once, refused


def answered(options: dict[str, Any]) -> dict[str, Any]:
    """Run the analysis that the options name, and give what was found or the refusal."""
    try:
        tables = {name: Path(path) for name, path in options["tables"].items()}
        return told(run(Request(**options["request"]), tables, options["facts"]))
    except Refusal as refusal:
        return refused(refusal)


def main() -> int:
    """Answer the options on standard input."""
    return answer_once(answered, lambda _options: AnalysisRoom())


if __name__ == "__main__":
    sys.exit(main())
