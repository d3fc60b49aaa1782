"""Where the large collection stands, made once and kept, and how a case is run in it."""

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.benchmarks._said import note
from tests.plugins import postgres

ROOT = Path(__file__).resolve().parents[2]
_START = (
    "import django, runpy, sys; django.setup(); del sys.argv[0]; "
    "runpy.run_module(sys.argv[0], run_name='__main__', alter_sys=False)"
)


def _digest() -> str:
    """Give a digest of all that decides what the collection holds."""
    parts = [Path(__file__).with_name("_collection.py"), *ROOT.glob("*/**/migrations/0*.py")]
    parts += ROOT.glob("registry/demo/*.py")
    whole = hashlib.sha256(time.strftime("%Y-%m-%d").encode())
    for path in sorted(parts):
        whole.update(path.read_bytes())
    return whole.hexdigest()[:16]


def around_of(var: Path, database: str = "") -> dict[str, str]:
    """Give the surroundings of a register whose data lie in a folder."""
    around = {name: said for name, said in os.environ.items() if not name.startswith("STRANDLINE_")}
    around |= {"STRANDLINE_VAR": str(var), "DJANGO_SETTINGS_MODULE": "registry.settings"}
    return {**around, "STRANDLINE_DATABASE": database} if database else around


def run(module: str, around: dict[str, str], *asked: str) -> None:
    """Run a module of the cases with Django set up in these surroundings."""
    command = [sys.executable, "-c", _START, f"tests.benchmarks.{module}", *asked]
    subprocess.run(command, cwd=ROOT, env=around, check=True)


def _make(around: dict[str, str]) -> None:
    for command in (["migrate", "-v0"], ["make_demo"]):
        subprocess.run(
            [sys.executable, "manage.py", *command],
            cwd=ROOT,
            env=around,
            check=True,
            stdout=subprocess.DEVNULL,
        )
    note("  demo made")
    run("_collection", around)
    subprocess.run(
        [sys.executable, "manage.py", "verify_ledger"],
        cwd=ROOT,
        env=around,
        check=True,
        stdout=sys.stderr,
    )


@contextmanager
def large(*, on_postgres: bool = False) -> Iterator[dict[str, str]]:
    """Give the surroundings of the large collection; SQLite's is made once and kept."""
    home = Path(os.environ.get("STRANDLINE_VAR", tempfile.gettempdir())) / "strandline-benchmarks"
    began = time.monotonic()
    if on_postgres:
        with postgres.cluster() as url, tempfile.TemporaryDirectory() as folder:
            around = around_of(Path(folder), f"{url}&pool=no")
            note("Making the large collection on PostgreSQL …")
            _make(around)
            note(f"  made in {time.monotonic() - began:.0f} s")
            yield around
        return
    var = home / _digest()
    around = around_of(var)
    if not (var / "made").exists():
        note(f"Making the large collection in {var} …")
        for older in home.glob("*"):
            shutil.rmtree(older)
        var.mkdir(parents=True, exist_ok=True)
        _make(around)
        (var / "made").touch()
        note(f"  made in {time.monotonic() - began:.0f} s")
    yield around
