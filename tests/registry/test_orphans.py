"""A process whose parent was killed ends too, in whatever it is."""

import json
import subprocess
import sys
import time
from pathlib import Path

from archive.engine.limits import Limits

ROOT = Path(__file__).resolve().parents[2]
GOLDEN = ROOT / "fixtures" / "packages" / "valid"

# It says nothing to its parent for a minute, so that no broken pipe can end it.
CHILD = """
import sys, time
from registry.orphans import die_with
die_with(int(sys.argv[1]))
print("ready", flush=True)
time.sleep(60)
"""
PARENT = """
import os, subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", sys.argv[1], str(os.getpid())],
                         stdout=subprocess.PIPE, start_new_session=True)
child.stdout.readline()
print(child.pid, flush=True)
time.sleep(60)
"""


def is_alive(pid: int) -> bool:
    try:
        told = Path(f"/proc/{pid}/stat").read_text(encoding="ascii")
    except OSError:
        return False
    return told.rpartition(")")[2].split()[0] != "Z"


def test_a_child_ends_when_its_parent_is_killed() -> None:
    with subprocess.Popen(
        [sys.executable, "-c", PARENT, CHILD], cwd=ROOT, stdout=subprocess.PIPE
    ) as parent:
        assert parent.stdout is not None
        child = int(parent.stdout.readline())
        assert is_alive(child)
        parent.kill()
        parent.wait()
        last = time.monotonic() + 10
        while is_alive(child):
            assert time.monotonic() < last, "it outlived its parent"
            time.sleep(0.02)


def test_a_check_whose_worker_is_gone_already_begins_nothing(tmp_path: Path) -> None:
    options = {
        "folder": str(GOLDEN),
        "facts": None,
        "limits": Limits().as_dict(),
        "expected": None,
        "descriptor": None,
        "previous": None,
        "limit_findings": None,
        "findings_path": str(tmp_path / "findings.jsonl"),
        "parent": -1,
    }
    done = subprocess.run(
        [sys.executable, "-m", "archive.engine.child"],
        cwd=ROOT,
        input=json.dumps(options),
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (1, ""), done.stderr
    assert list(tmp_path.iterdir()) == []
