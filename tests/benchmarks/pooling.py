"""Ten cohorts pooled into a time budget per animal and behaviour, beside pandas doing the same.

    .venv/bin/python -m tests.benchmarks.pooling [ROWS [MOST_COHORTS]]

Each way runs in a process of its own, libraries imported before the clock starts. Times are of
computing, threads included, so that a busy machine favours neither side: the least of three runs,
of one for CSV. Memory is what is needed beyond the imports.
The shares that come out must be equal. pandas reads the CSV whole, then the two columns that are
needed of the CSV and of the typed copies. Told too: the cost of making these copies, and the growth
from 1 to 50 cohorts.
"""

import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from archive.extending.carrying import Cohort
from archive.extending.columns import write_columns
from archive.extending.counting import time_budget
from archive.extending.pooling import Pool
from tests.benchmarks._said import note, say

ROWS, COHORTS, MOST = 500_000, 10, 50
SEED = 20260301
BEHAVIOURS = ("rest", "swim", "feed", "dig", "hide", "climb", "out of sight")
FIELDS = [
    {"name": "record", "type": "integer"},
    {"name": "session", "type": "string"},
    {"name": "seen_at", "type": "datetime"},
    {"name": "animal", "type": "string"},
    {"name": "behaviour", "type": "string"},
    {"name": "depth", "type": "number", "x:unit": "m"},
    {"name": "temperature", "type": "number", "x:unit": "Cel"},
    {"name": "observer", "type": "string"},
]
SCHEMA = {"fields": [field | {"x:fieldId": f"id{at}"} for at, field in enumerate(FIELDS)]}
RESOURCE = {"name": "scans", "path": "scans.csv", "schema": SCHEMA}


def write_cohort(path: Path, number: int, rows: int) -> None:
    """Write the scans of one cohort."""
    draw = random.Random(SEED + number)
    days = [f"20{10 + number:02d}-{1 + at // 28:02d}-{1 + at % 28:02d}" for at in range(300)]
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(",".join(str(field["name"]) for field in FIELDS) + "\n")
        for at in range(rows):
            moment = f"{days[at // 1800 % 300]}T{8 + at // 200 % 9:02d}:{at % 60:02d}:00"
            file.write(
                f"{at + 1},SE-{at // 400:05d},{moment},RAY-{at % 40:02d},"
                f"{BEHAVIOURS[draw.randrange(7)]},{draw.random() * 5:.2f},"
                f"{18 + draw.random() * 8:.1f},OB-{at % 7}\n"
            )


def ours(room: Path, cohorts: int) -> dict[str, float]:
    """Pool the typed copies."""
    pool = Pool(
        tuple(Cohort(f"ark:99999/c{at}", room / f"{at}.parquet", RESOURCE) for at in range(cohorts))
    )
    told = time_budget(pool, "animal", "behaviour").to_pydict()
    keys = zip(told["_source"], told["animal"], told["behaviour"], strict=True)
    return {" ".join(key): share for key, share in zip(keys, told["share"], strict=True)}


def pandas_way(room: Path, cohorts: int, form: str) -> dict[str, float]:
    """Pool with pandas."""
    import pandas as pd  # noqa: PLC0415 - our own side is measured without it

    wanted = ["animal", "behaviour"]
    frames = []
    for at in range(cohorts):
        if form != "parquet":
            columns = wanted if form == "csv, two columns" else None
            path = room / f"{at}.csv"
            frame = pd.read_csv(path, usecols=columns, dtype=str, keep_default_na=False)
        else:
            frame = pd.read_parquet(room / f"{at}.parquet", columns=wanted)
        frames.append(frame.assign(_source=f"ark:99999/c{at}"))
    whole = pd.concat(frames, ignore_index=True)
    shares = whole.groupby(["_source", "animal"])["behaviour"].value_counts(normalize=True)
    return {" ".join(key): float(share) for key, share in shares.items()}


def megabytes(name: str) -> float:
    """Give a figure of this process's memory."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name)) / 1024


def measure(room: Path, way: str, cohorts: int) -> None:
    """Run one way in this process, and print what it took."""

    def run(folder: Path, count: int) -> dict[str, float]:
        return ours(folder, count) if way == "ours" else pandas_way(folder, count, way)

    run(room / "small", 1)
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    before, least = megabytes("VmRSS"), float("inf")
    shares: dict[str, float] = {}
    for _ in range(1 if way.startswith("csv") else 3):
        began = time.process_time()
        shares = run(room, cohorts)
        least = min(least, time.process_time() - began)
    print(json.dumps([least, megabytes("VmHWM") - before, shares]))


def apart(room: Path, way: str, cohorts: int) -> tuple[float, float, Any]:
    """Run one way in a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.pooling", "--one", str(room), way]
    run = subprocess.run([*command, str(cohorts)], check=True, capture_output=True, text=True)
    seconds, memory, shares = json.loads(run.stdout.splitlines()[-1])
    return seconds, memory, shares


def main() -> None:
    """Measure every case."""
    if sys.argv[1:2] == ["--one"]:
        measure(Path(sys.argv[2]), sys.argv[3], int(sys.argv[4]))
        return
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else ROWS
    most = int(sys.argv[2]) if len(sys.argv) > 2 else MOST
    with tempfile.TemporaryDirectory(prefix="pooled-") as place:
        room = Path(place)
        (room / "small").mkdir()
        write_cohort(room / "small" / "0.csv", 0, 500)
        write_columns(room / "small" / "0.csv", room / "small" / "0.parquet", RESOURCE)
        spent = 0.0
        for at in range(COHORTS):
            write_cohort(room / f"{at}.csv", at, rows)
            began = time.process_time()
            write_columns(room / f"{at}.csv", room / f"{at}.parquet", RESOURCE)
            spent += time.process_time() - began
        sizes = [
            sum(path.stat().st_size for path in room.glob(f"*.{form}")) / 1e6
            for form in ("parquet", "csv")
        ]
        whole = f"pooling: {COHORTS} cohorts of {rows:,} rows"
        say(f"{whole}, typed copies against CSV", *sizes, "MB")
        mine, memory, shares = apart(room, "ours", COHORTS)
        for form in ("csv", "csv, two columns", "parquet"):
            other, theirs, expected = apart(room, form, COHORTS)
            assert shares.keys() == expected.keys()
            assert all(abs(shares[key] - expected[key]) < 1e-12 for key in shares)
            say(f"{whole}, against pandas over {form}", mine, other, "s of computing")
            say(f"{whole}, memory against pandas over {form}", memory, theirs, "MB")
            if form == "csv":
                say(
                    f"{whole}, making the copies once, against pandas over csv",
                    spent,
                    other,
                    "s of computing",
                )
        one, least, _ = apart(room, "ours", 1)
        for at in range(COHORTS, most):
            (room / f"{at}.parquet").hardlink_to(room / f"{at % COHORTS}.parquet")
        for cohorts in [number for number in (10, 25, 50) if number <= most]:
            seconds, needed, _ = apart(room, "ours", cohorts)
            say(f"pooling: {cohorts} cohorts against 1", seconds, one, "s of computing")
            say(f"pooling: memory of {cohorts} cohorts against 1", needed, least, "MB")
    note("pooling: the shares of every animal and behaviour were the same on all sides")


if __name__ == "__main__":
    main()
