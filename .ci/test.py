"""Run the whole check, phase by phase; every phase runs, whatever became of those before it.

    .venv/bin/python .ci/test.py [STEP...]

The last thing printed is the closing line of the last pytest run, with the budget just above it.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tests.plugins.browser import WANTED, chromium  # noqa: E402  # the checkout is no package
from tests.plugins.counts import table  # noqa: E402

# The fewest tests of each kind that must pass. Raise them when tests are added.
AT_LEAST = {"postgres": 330, "browser": 30, "outside": 550, "suites": 15}
BUDGET_S = {
    "install": 120,
    "lint and types": 120,
    "SQLite": 840,
    "PostgreSQL": 360,
    "browser": 300,
    "outside": 360,
}


@dataclass(frozen=True)
class Step:
    """One command of a phase."""

    name: str
    phase: str
    command: list[str]
    kinds: tuple[str, ...] = field(default=())

    @property
    def full(self) -> list[str]:
        """Give the command with the counts that it must reach."""
        least = [f"--at-least={kind}={AT_LEAST[kind]}" for kind in self.kinds]
        return [sys.executable, *self.command, *least]


def _steps() -> list[Step]:
    """Give every step in order; the last one is a pytest run, which prints the budget."""
    ruff, pytest = ["-m", "ruff"], ["-m", "pytest", "-q", "--no-header"]
    # Two cores; a file's tests stay together, and the long files of the architecture begin.
    both = ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder"]
    lent = ("suites",) if os.environ.get("STRANDLINE_SUITES") else ()
    rules = "lint and types"
    return [
        Step("lint", rules, [*ruff, "check", "--quiet", "."]),
        Step("format", rules, [*ruff, "format", "--check", "--quiet", "."]),
        Step("types", rules, ["-m", "mypy"]),
        Step("layers", rules, [str(Path(sys.executable).with_name("lint-imports")), "--no-logo"]),
        Step("check", rules, ["manage.py", "check"]),
        Step("migrations", rules, ["manage.py", "makemigrations", "--check", "--dry-run"]),
        Step("sqlite", "SQLite", [*pytest, *both, "-m", "not browser and not outside"]),
        Step(
            "postgres",
            "PostgreSQL",
            [*pytest, *both, "--postgres", "-m", "postgres"],
            ("postgres",),
        ),
        Step("browser", "browser", [*pytest, *both, "-m", "browser"], ("browser",)),
        Step(
            "outside",
            "outside",
            [*pytest, *both, "-m", "outside and not browser"],
            ("outside", *lent),
        ),
    ]


def _surroundings(home: Path) -> dict[str, str]:
    """Give the variables of every step: nothing of the caller's own site, and a home of its own."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith("STRANDLINE_") or name == "STRANDLINE_SUITES"
    }
    return {
        **kept,
        "HOME": str(home),
        "STRANDLINE_TESTING": "yes",
        "STRANDLINE_VAR": str(home / "var"),
        # Compiled once, for this process and for the children of every test, and kept.
        "NUMBA_CACHE_DIR": str(ROOT / ".pytest_cache" / "kernel"),
    }


@contextmanager
def _home() -> Iterator[Path]:
    home = Path(tempfile.mkdtemp(prefix="strandline-home-"))
    (home / "var").mkdir()
    try:
        yield home
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _begin(phases: list[dict[str, Any]], name: str) -> dict[str, Any]:
    """Give the phase of this name, which several steps share."""
    if not phases or phases[-1]["name"] != name:
        phases.append({"name": name, "seconds": 0.0, "budget": BUDGET_S[name], "failed": []})
    return phases[-1]


def _run(steps: list[Step], home: Path) -> int:
    """Run the steps; give the exit code."""
    phases: list[dict[str, Any]] = []
    installed = os.environ.get("STRANDLINE_INSTALL_SECONDS", "0")
    _begin(phases, "install")["seconds"] = float(installed)
    around, timings = _surroundings(home), home / "timings.json"
    code = 0
    for step in steps:
        is_last = step is steps[-1] and "pytest" in step.command
        phase = _begin(phases, step.phase)
        print(f"\n── {step.name}: {' '.join(step.full[1:])[:90]}", flush=True)
        began = time.time()
        command = step.full
        if is_last:
            phase["began"] = began
            timings.write_text(json.dumps(phases), encoding="utf-8")
            command = [*command, f"--timings={timings}"]
        code = subprocess.call(command, cwd=ROOT, env=around, stdin=subprocess.DEVNULL)
        phase["seconds"] += time.time() - began
        if code:
            phase["failed"].append(step.name)
            if not is_last:
                print(f"── {step.name} failed (exit {code})", flush=True)
    has_closed = "began" in phases[-1] and code in {0, 1, 5}
    if len(steps) > 1 and not has_closed:
        print("\n".join(["", *table(phases)]))
    return int(any(phase["failed"] for phase in phases))


def main() -> None:
    """Run the steps that were named, or all of them."""
    steps = _steps()
    names = [step.name for step in steps]
    asked = sys.argv[1:]
    if unknown := [name for name in asked if name not in names]:
        sys.exit(f"strandline: no step {', '.join(unknown)}; there are {', '.join(names)}.")
    chosen = [step for step in steps if not asked or step.name in asked]
    if any(step.name == "browser" for step in chosen) and chromium() is None:
        print(f"strandline: {WANTED}", flush=True)
    with _home() as home:
        code = _run(chosen, home)
    sys.exit(code)


if __name__ == "__main__":
    main()
