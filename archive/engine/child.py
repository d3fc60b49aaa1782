"""The child that checks: options as JSON come in, progress and the report as JSON lines go out.

Started as ``python -m archive.engine.child`` by ``archive.engine.watch``; its limits are set before
it reads anything, and it may open no connection and start no program.
"""

import gc
import json
import sys
from pathlib import Path

from archive.engine.facts import RegisterFacts
from archive.engine.limits import Limits
from archive.engine.run import check
from registry.guarded.child import OUT_OF_MEMORY, confine, tell
from registry.orphans import die_with


def main() -> int:
    """Check one package as the options on standard input say."""
    options = json.load(sys.stdin)
    die_with(options["parent"])
    limits = Limits.from_dict(options["limits"])
    confine(limits)
    # What was imported stays: the collector need not go over it again and again.
    gc.freeze()
    try:
        report = check(
            Path(options["folder"]),
            facts=RegisterFacts.from_json(options["facts"]) if options["facts"] else None,
            limits=limits,
            expected=options["expected"],
            descriptor=options["descriptor"],
            previous=Path(options["previous"]) if options["previous"] else None,
            progress=lambda share: tell({"progress": round(share, 4)}),
            limit_findings=options["limit_findings"],
            findings_path=Path(options["findings_path"]),
        )
    except MemoryError:
        return OUT_OF_MEMORY
    tell({"report": report.as_dict(with_findings=False)})
    return 0


if __name__ == "__main__":
    sys.exit(main())
