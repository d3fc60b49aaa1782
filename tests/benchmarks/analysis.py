"""Time budgets over millions of scans beside pandas, and exact tests beside scipy.

    .venv/bin/python -m tests.benchmarks.analysis [SCANS]

Times are of computing, threads included, the least of some runs, both sides in this very run; the
libraries are imported before, and the files are in memory. Either side must find the same numbers.
Ours reads the typed columns that the archive keeps beside a table; pandas reads the CSV as it was
deposited, then the very same Parquet.
"""

import sys
import tempfile
import time
from collections.abc import Callable
from math import comb
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet as pq
from scipy import stats

from archive.analysis import Arms, Side, randomisation, time_budget
from archive.analysis.reading import read_scans
from archive.extending.columns import ROWS
from tests.benchmarks._said import note, say

SCANS = 5_000_000
ANIMALS, SESSIONS = 24, 400
BEHAVIOURS = ["swim", "rest", "feed", "hide", "follow", "out of sight"]
OFTEN = [0.38, 0.27, 0.08, 0.1, 0.05, 0.12]
NAMES = ["animal", "session", "behaviour"]


def write(folder: Path, scans: int) -> tuple[Path, Path]:
    """Write scans as CSV and as Parquet, each cell the same."""
    draws = np.random.default_rng(1)
    seconds = np.datetime64("2026-03-01T09:00:00") + np.arange(scans).astype("timedelta64[s]")
    cells = {
        "session": [f"S{n:04}" for n in np.sort(draws.integers(0, SESSIONS, scans))],
        "animal": [f"CE-{n:02}" for n in draws.integers(0, ANIMALS, scans)],
        "scanned_at": np.datetime_as_string(seconds),
        "behaviour": np.array(BEHAVIOURS)[draws.choice(len(BEHAVIOURS), scans, p=OFTEN)],
    }
    # Required in the dictionary: the archive's typed copy says so, and so does this one.
    fields = [pa.field(name, pa.string(), nullable=False) for name in cells]
    table = pa.table([pa.array(one) for one in cells.values()], schema=pa.schema(fields))
    plain, typed = folder / "scans.csv", folder / "scans.parquet"
    pa.csv.write_csv(table, plain, pa.csv.WriteOptions(quoting_style="needed"))
    pq.write_table(table, typed, row_group_size=ROWS, compression="zstd")
    return plain, typed


def ours(typed: Path) -> dict[str, tuple[float, float, float]]:
    """Read and sum up: mean over animals with its interval, bounds, sessions drawn again."""
    found = time_budget(read_scans(typed, *NAMES))
    return {
        one.behaviour: (one.of_visible.mean, one.of_visible.low, one.of_visible.high)
        for one in found.shares
    }


def _shares(frame: pd.DataFrame) -> dict[str, tuple[float, float, float]]:
    """Sum up with pandas by session and animal; shares of visible scans, interval over animals."""
    by_session = frame.groupby(NAMES, observed=True, sort=False).size()
    counts = by_session.groupby(["animal", "behaviour"], observed=True).sum()
    visible = counts.drop("out of sight", level="behaviour")
    share = visible / visible.groupby("animal", observed=True).transform("sum")
    by_behaviour = share.groupby("behaviour", observed=True)
    middle, n = by_behaviour.mean(), by_behaviour.size()
    half = stats.t.ppf(0.975, n - 1) * by_behaviour.sem()
    low, high = (middle - half).clip(lower=0), (middle + half).clip(upper=1)
    return {str(name): (middle[name], low[name], high[name]) for name in middle.index}


def pandas_csv(plain: Path) -> dict[str, tuple[float, float, float]]:
    """Read the CSV with pandas."""
    return _shares(pd.read_csv(plain, usecols=NAMES))


def pandas_csv_coded(plain: Path) -> dict[str, tuple[float, float, float]]:
    """Read the CSV with pandas as categories, as a careful user would."""
    return _shares(pd.read_csv(plain, usecols=NAMES, dtype=dict.fromkeys(NAMES, "category")))


def pandas_parquet(typed: Path) -> dict[str, tuple[float, float, float]]:
    """Read the same Parquet with pandas."""
    return _shares(pd.read_parquet(typed, columns=NAMES))


def timed[T](work: Callable[[], T], times: int) -> tuple[float, T]:
    """Give the least seconds of computing of some runs, and what was found."""
    least, found = float("inf"), None
    for _ in range(times):
        began = time.process_time()
        found = work()
        least = min(least, time.process_time() - began)
    assert found is not None
    return least, found


def budgets(scans: int) -> None:
    """Measure time budgets."""
    with tempfile.TemporaryDirectory() as room:
        plain, typed = write(Path(room), scans)
        note(
            f"{scans:,} scans: CSV {plain.stat().st_size:,} bytes, Parquet {typed.stat().st_size:,}"
        )
        ours(typed)
        mine, found = timed(lambda: ours(typed), 9)
        say(f"time budget of {scans:,} scans, limit 2 s", mine, 2.0, "s of computing")
        for case, work, times in (
            ("pandas over CSV", lambda: pandas_csv(plain), 3),
            ("pandas over CSV as categories", lambda: pandas_csv_coded(plain), 3),
            ("pandas over the same Parquet", lambda: pandas_parquet(typed), 3),
        ):
            theirs, other = timed(work, times)
            assert found.keys() == other.keys()
            for name, numbers in found.items():
                assert np.allclose(numbers, other[name], rtol=0, atol=1e-12), (case, name)
            say(f"time budget of {scans:,} scans, {case}", mine, theirs, "s of computing")


def _apart(x: np.ndarray, y: np.ndarray, axis: int) -> np.ndarray:
    return x.mean(axis=axis) - y.mean(axis=axis)


def exact(one: int, other: int) -> None:
    """Measure an exact test of two arms."""
    draws = np.random.default_rng(2)
    x, y = draws.normal(0.5, 1, one), draws.normal(0, 1, other)
    arms, values = Arms([1] * one + [0] * other), np.concatenate([x, y])
    mine, found = timed(lambda: randomisation(arms, values), 3)
    theirs, reference = timed(
        lambda: stats.permutation_test(
            (x, y), _apart, n_resamples=np.inf, vectorized=True, batch=50_000
        ),
        1,
    )
    assert found.arrangements == comb(one + other, one)
    # Theirs is twice the smaller tail, ours counts both; on one side they are the same.
    assert np.isclose(min(1.0, 2 * min(_tail(x, y, 1), _tail(x, y, -1))), reference.pvalue)
    case = f"exact test, {one} against {other}: {found.arrangements:,} arrangements"
    say(case, mine, theirs, "s of computing")


def _tail(x: np.ndarray, y: np.ndarray, sign: int) -> float:
    arms = Arms([1] * len(x) + [0] * len(y))
    return randomisation(arms, sign * np.concatenate([x, y]), side=Side.GREATER).p


def signs(pairs: int) -> None:
    """Measure an exact test of pairs."""
    apart = np.random.default_rng(3).normal(0.3, 1, pairs)
    values = np.column_stack([apart, np.zeros(pairs)]).ravel()
    arms = Arms([1, 0] * pairs, np.arange(pairs).repeat(2).tolist())
    mine, found = timed(lambda: randomisation(arms, values), 3)
    theirs, reference = timed(
        lambda: stats.permutation_test(
            (apart,),
            lambda x, axis: x.mean(axis=axis),
            permutation_type="samples",
            n_resamples=np.inf,
            vectorized=True,
            batch=50_000,
        ),
        1,
    )
    assert abs(found.p - reference.pvalue) < 1e-9
    case = f"exact change of signs, {pairs} pairs: {found.arrangements:,} arrangements"
    say(case, mine, theirs, "s of computing")


def main() -> None:
    """Measure every case."""
    budgets(int(sys.argv[1]) if len(sys.argv) > 1 else SCANS)
    exact(9, 9)
    exact(11, 11)
    signs(17)


if __name__ == "__main__":
    main()
