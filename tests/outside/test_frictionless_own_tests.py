"""frictionless' own tests, run unmodified, with our fast way answering in place of its validation.

Source: the installed package frictionless carries them (folders __spec__, MIT); their tables are
those of github.com/frictionlessdata/frictionless-py, folder data. Each test that passes as it is
must pass when we answer; those that fail as they are (a file that was not lent, the network, a
package that is not installed) are named apart and asked nothing.
"""

import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import frictionless
import pytest

pytestmark = pytest.mark.outside

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = Path(frictionless.__file__).parent
TESTS = (
    "resource/__spec__/test_validate.py",
    "resource/__spec__/test_validate_schema.py",
    "resource/__spec__/test_validate_dialect.py",
    "checks/__spec__/test_baseline.py",
    "package/__spec__/test_validate.py",
    "table/__spec__",
)


def outcomes(folder: Path, room: Path, *more: str) -> tuple[dict[str, str], str]:
    """Run the tests in a process of their own: what became of each, and what was printed."""
    told = room / "told.xml"
    command = [
        sys.executable, "-m", "pytest", "--noconftest", "-p", "no:django", "-p", "no:cacheprovider",
        "-c", os.devnull, "--rootdir", str(PACKAGE), f"--junitxml={told}", "-q", *more,
        *(str(PACKAGE / one) for one in TESTS),
    ]  # fmt: skip
    around = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    run = subprocess.run(
        command, cwd=folder, env=around, capture_output=True, text=True, check=False
    )
    found = {}
    for case in ET.parse(told).iter("testcase"):
        kinds = {child.tag for child in case}
        name = f"{case.get('classname')}.{case.get('name')}"
        found[name] = "failed" if kinds & {"failure", "error"} else "skipped" if kinds else "passed"
    return found, run.stdout


def test_what_passes_with_frictionless_answering_passes_with_us_answering(suites, tmp_path):
    folder = suites / "frictionless"
    theirs, _ = outcomes(folder, tmp_path)
    ours, said = outcomes(folder, tmp_path, "-p", "tests.plugins.answering")
    passed = {name for name, outcome in theirs.items() if outcome == "passed"}
    lost = sorted(name for name in passed if ours.get(name) != "passed")
    answered = re.search(r"'answered': (\d+)", said)
    print(f"frictionless' own tests: {len(passed)} of {len(theirs)} pass; {said.splitlines()[-2:]}")
    assert lost == []
    assert len(passed) > 240
    assert answered is not None
    assert int(answered.group(1)) > 40
