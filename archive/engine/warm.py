"""Compiles the kernel ahead: ``python -m archive.engine.warm``, at a worker's start.

It checks a small table with a cell of every kind, good and bad, and with each kind of key, and
lets go of the kernels of earlier versions. Given the number of a process it ends with that.
"""

import importlib
import shutil
import sys
import tempfile
from pathlib import Path

from archive.engine import way
from archive.engine.run import check_table
from registry.orphans import die_with

SCHEMA = {
    "fields": [
        {"name": "id", "type": "integer", "constraints": {"unique": True}},
        {"name": "at", "type": "datetime", "x:role": "time"},
        {"name": "day", "type": "date"},
        {"name": "clock", "type": "time"},
        {"name": "length", "type": "number", "constraints": {"minimum": 0}},
        {"name": "is_seen", "type": "boolean"},
        {"name": "note", "type": "string", "constraints": {"maxLength": 20}},
    ],
    "primaryKey": ["id", "at"],
    "uniqueKeys": [["note", "day"]],
    "foreignKeys": [{"fields": ["id"], "reference": {"resource": "", "fields": ["id"]}}],
}
ROWS = """id,at,day,clock,length,is_seen,note
1,2026-03-01T10:00:00+00:00,2026-03-01,10:00:00,12.5,true,"a ""quiet"" one"
1,2026-03-01T10:00:00Z,2026-02-30,25:00:00,-1,maybe,a
,,,,,,
"""


def main() -> int:
    """Check the small table."""
    for parent in sys.argv[1:]:
        die_with(int(parent))
    with tempfile.TemporaryDirectory(prefix="kernel-") as room:
        path = Path(room) / "rows.csv"
        path.write_text(ROWS, encoding="utf-8")
        report = check_table(path, SCHEMA)
    if (telling := way.kernel("telling")) is not None:
        telling.Places(ROWS.encode()).after(0, seeks_number=True)
    _let_go()
    return 0 if len(report.findings) > 4 else 1


def _let_go() -> None:
    """Remove what other versions compiled; nobody waits for it."""
    kernel = way.kernel("words")
    if kernel is not None:
        kept = importlib.import_module("archive.engine.fast").KERNEL_FOLDER
        for other in kept.parent.glob("kernel-*"):
            if other != kept:
                shutil.rmtree(other, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
