"""The child that checks: options as JSON come in, progress and the report as JSON lines go out.

Started as ``python -m archive.engine.child`` by ``archive.engine.watch``; its limits are set before
it reads anything, and it may open no connection and start no program.
"""

import gc
import json
import sys
from datetime import date
from pathlib import Path

from archive.engine.facts import RegisterFacts
from archive.engine.limits import Limits
from archive.engine.looking_back import look_back
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
    folder, expected = Path(options["folder"]), options["expected"]
    facts = RegisterFacts.from_json(options["facts"]) if options["facts"] else None
    try:
        report = check(
            folder,
            facts=facts,
            limits=limits,
            expected=expected,
            descriptor=options["descriptor"],
            previous=Path(options["previous"]) if options["previous"] else None,
            progress=lambda share: tell({"progress": round(share, 4)}),
            limit_findings=options["limit_findings"],
            findings_path=Path(options["findings_path"]),
        )
        # The verdict stands, whatever becomes of the look back.
        tell({"report": report.as_dict(with_findings=False)})
        if options["today"]:
            today = date.fromisoformat(options["today"])
            told = look_back(
                folder, report, expected=expected, facts=facts, today=today, limits=limits
            )
            tell({"told": told.as_dict()})
    except MemoryError:
        return OUT_OF_MEMORY
    return 0


if __name__ == "__main__":
    sys.exit(main())
