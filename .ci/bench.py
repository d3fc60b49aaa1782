"""Run the benchmarks of tests/benchmarks: every case, or the one that is named, with its flags.

    .venv/bin/python .ci/bench.py [CASE [FLAG...]]

Each case is a module that prints JSON lines of case, ours, other, unit and ratio; what else it says
goes to the other stream. A module whose name begins with a stroke is no case.
"""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def cases() -> list[str]:
    """Give the names of the cases."""
    folder = ROOT / "tests" / "benchmarks"
    return sorted(path.stem for path in folder.glob("*.py") if not path.stem.startswith("_"))


def main() -> None:
    """Run the case that was named, or all of them; a case that breaks does not stop the next."""
    known, asked = cases(), sys.argv[1:2]
    if asked and asked[0] not in known:
        sys.exit(f"strandline: no case {asked[0]}; there are: {', '.join(known) or 'none yet'}.")
    around = {"DJANGO_SETTINGS_MODULE": "registry.settings", **os.environ}
    broken = []
    for case in asked or known:
        command = [sys.executable, "-m", f"tests.benchmarks.{case}", *sys.argv[2:]]
        if subprocess.call(command, cwd=ROOT, env=around, stdin=subprocess.DEVNULL):
            broken.append(case)
    if broken:
        sys.exit(f"strandline: these cases broke: {', '.join(broken)}.")


if __name__ == "__main__":
    main()
