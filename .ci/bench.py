"""Run one benchmark of tests/bench, or list them: each is a module that prints what it measured."""

import os
import runpy
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    """Run the case that was named."""
    cases = sorted(
        path.stem for path in (ROOT / "tests" / "bench").glob("*.py") if path.stem[0] != "_"
    )
    asked = sys.argv[1:2]
    if not asked:
        print("\n".join(f"make bench CASE={case}" for case in cases) or "There are no cases yet.")
        return
    if asked[0] not in cases:
        sys.exit(f"strandline: no case {asked[0]}; there are: {', '.join(cases) or 'none yet'}.")
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "registry.settings")
    runpy.run_module(f"tests.bench.{asked[0]}", run_name="__main__")


if __name__ == "__main__":
    main()
