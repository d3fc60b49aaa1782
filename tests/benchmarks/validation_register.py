"""A large table held against the register, beside the same table judged by itself.

    .venv/bin/python -m tests.benchmarks.validation_register [ROWS]

Times are of computing, threads included. The table has a time, a session, an animal, an observer,
a place and a behaviour in each row, and one row in ten thousand that the register does not know.
"""

import gc
import os
import random
import sys
import tempfile
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from archive.engine.facts import Enrolled, Held, Live, Planned, Published, RegisterFacts, Restricted
from archive.engine.run import check_table
from tests.benchmarks._said import note, say
from tests.benchmarks.validation import timed

ROWS = 1_000_000
SCAN_S = 60
SCANS = 250
ANIMALS = [f"CE-{number:02d}" for number in range(40)]
START = datetime(2026, 3, 2, 9)  # noqa: DTZ001 - the data's own clock
ETHOGRAM = [
    {"code": code, "name": code, "kind": "state", "exclusive": "activity", "definition": code}
    for code in ("REST", "SWIM", "FEED", "DIG")
]
SCHEMA: dict[str, Any] = {
    "fields": [
        {"name": "session", "type": "string", "x:role": "session"},
        {"name": "seen_at", "type": "datetime", "x:role": "time"},
        {"name": "animal", "type": "string", "x:role": "animal"},
        {"name": "observer", "type": "string", "x:role": "observer"},
        {"name": "tank", "type": "string", "x:role": "place"},
        {
            "name": "behaviour",
            "type": "string",
            "x:role": "behaviour",
            "x:ethogram": ETHOGRAM,
            "categories": [entry["code"] for entry in ETHOGRAM],
        },
        {"name": "cover", "type": "number", "x:role": "outcome", "x:unit": "%"},
    ],
    "primaryKey": ["seen_at", "animal"],
}


def write_rows(path: Path, rows: int) -> int:
    """Write sessions of 250 scans of 40 animals; give the number of sessions."""
    draw, sessions = random.Random(20260301), set()
    with path.open("w", encoding="utf-8", newline="") as out:
        out.write(",".join(field["name"] for field in SCHEMA["fields"]) + "\n")
        for number in range(rows):
            scan, animal = divmod(number, len(ANIMALS))
            session, at = divmod(scan, SCANS)
            sessions.add(session)
            moment = START + timedelta(days=session, seconds=SCAN_S * at)
            who = ANIMALS[animal] if draw.random() > 0.0001 else "CE-99"
            cells = [
                f"S{session}", moment.isoformat(), who, f"O{1 + animal % 3}", f"T{animal % 8}",
                ETHOGRAM[draw.randrange(4)]["code"], f"{draw.random() * 100:.1f}",
            ]  # fmt: skip
            out.write(",".join(cells) + "\n")
    return len(sessions)


def facts_of(sessions: int) -> RegisterFacts:
    """Give a register that knows the table's animals, days, places and observers."""
    first = START.date()
    held = [
        Held(f"S{one}", START + timedelta(days=one), START + timedelta(days=one, hours=5))
        for one in range(sessions)
    ]
    return RegisterFacts(
        enrolments=tuple(Enrolled(code, first) for code in ANIMALS),
        approvals=(Live(first, first + timedelta(days=sessions)),),
        restrictions=(Restricted("CE-03", date(2025, 1, 1), date(2025, 2, 1), "vet", "rest"),),
        places=tuple(f"T{number}" for number in range(8)),
        enclosures=tuple(f"T{number}" for number in range(20)),
        observers=("O1", "O2", "O3"),
        sessions=tuple(held),
        planned=(Planned("animal", len(ANIMALS)), Planned("session", sessions)),
        versions=(Published(1, first),),
        every_s=SCAN_S,
    )


def main() -> None:
    """Measure both."""
    os.environ["STRANDLINE_ENGINE"] = "fast"
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    with tempfile.TemporaryDirectory(prefix="measured-") as place:
        path = Path(place) / "rows.csv"
        write_rows(path, 1_000)
        check_table(path, SCHEMA, facts=facts_of(1))
        facts = facts_of(write_rows(path, rows))
        gc.collect()
        gc.freeze()
        alone, _ = timed(lambda _: check_table(path, SCHEMA), path, 3)
        both, report = timed(lambda _: check_table(path, SCHEMA, facts=facts), path, 3)
        assert [table.note for table in report.tables] == [""]
        told = {finding.code for finding in report.findings}
        assert told >= {"not-enrolled", "planned-numbers"}, told
        note(f"validation_register: {len(report.findings):,} findings: {sorted(told)}")
        say(f"validation_register: {rows:,} rows, with the register", both, alone, "s of computing")


if __name__ == "__main__":
    main()
