"""Counting at 20,000 uses and at 2,000,000: enrolment check, breach sweep, yearly return, ledger.

At the larger size there are 5,000 projects, 20,000 approvals, 50,000 animals and 1,000,000 entries
of the ledger. Each case gives the queries, seconds or megabytes at the larger size; the other side
is what the smaller one took, times the growth where growth in a straight line is the aim, so that a
ratio of 1 is just that, and for the enrolment check and for memory a constant. Also run on
PostgreSQL with `postgres` as an argument. Sizes may be given: `uses.py 20000 2000000`.
"""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.benchmarks._said import note, say
from tests.benchmarks._surroundings import _START, ROOT, around_of
from tests.plugins import postgres

SIZES = (20_000, 2_000_000)
CONSTANT = {"enrolment check", "margins of a booking"}


@contextmanager
def around(*, on_postgres: bool) -> Iterator[dict[str, str]]:
    """Give the surroundings of an empty register of its own."""
    with tempfile.TemporaryDirectory() as folder:
        if not on_postgres:
            yield around_of(Path(folder))
            return
        with postgres.cluster() as url:
            yield around_of(Path(folder), f"{url}&pool=no")


def measured_at(uses: int, *, on_postgres: bool) -> dict[str, dict[str, float]]:
    """Lay out so many uses and half as many entries, and measure each case."""
    with around(on_postgres=on_postgres) as given:
        given |= {"MEMORY": os.environ.get("MEMORY", "")}
        migrate = [sys.executable, "manage.py", "migrate", "-v0"]
        subprocess.run(migrate, cwd=ROOT, env=given, check=True, stdout=subprocess.DEVNULL)
        asked = ["tests.benchmarks._uses", str(uses), str(uses // 2)]
        command = [sys.executable, "-c", _START, *asked]
        told = subprocess.run(command, cwd=ROOT, env=given, check=True, stdout=subprocess.PIPE)
        found: dict[str, dict[str, float]] = json.loads(told.stdout)
        return found


def main() -> None:
    """Measure both sizes, and say how each case grew."""
    on_postgres = "postgres" in sys.argv
    few, many = [int(one) for one in sys.argv[1:] if one.isdigit()] or SIZES
    where = "PostgreSQL" if on_postgres else "SQLite"
    less = measured_at(few, on_postgres=on_postgres)
    more = measured_at(many, on_postgres=on_postgres)
    note(f"  measured at {few} and {many} uses on {where}")
    for case, at in more.items():
        growth = 1 if case in CONSTANT else many / few
        say(f"{where}: {case}: queries", at["queries"], growth * less[case]["queries"], "queries")
        say(f"{where}: {case}: time", at["s"], growth * less[case]["s"], "s")
        if at["mb"]:
            say(f"{where}: {case}: memory", at["mb"], less[case]["mb"], "MB")


if __name__ == "__main__":
    main()
