"""The books of the collection at 50,000 animals: stock list, kin, export, and a list undone."""

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks._surroundings import ROOT, around_of, run


def main() -> None:
    """Make an empty register in a folder of its own, and ask there."""
    with tempfile.TemporaryDirectory() as folder:
        around = around_of(Path(folder))
        migrate = [sys.executable, "manage.py", "migrate", "-v0"]
        subprocess.run(migrate, cwd=ROOT, env=around, check=True, stdout=sys.stderr)
        run("_books", around)


if __name__ == "__main__":
    main()
