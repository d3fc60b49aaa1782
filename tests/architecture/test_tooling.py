import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = ("requirements.txt", "requirements-dev.txt")
# Folders of one machine and hosts that serve packages, written apart so as not to be found here.
FOREIGN = re.compile(
    r"(?<![A-Za-z0-9_.~-])/(?:" + "wo" + r"rk|fa" + r"rm|ro" + r"ot)/"
    r"|python"
    + r"hosted|pypi\."
    + r"org|registry\."
    + r"npmjs|deb\."
    + r"debian|git"
    + r"hubusercontent"
)


def committed_files() -> list[Path]:
    """Give what git keeps or would keep: tracked files, and new ones that are not ignored."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        return [path for path in ROOT.rglob("*") if path.is_file() and ".venv" not in path.parts]
    asked = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    told = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return [path for name in told.split("\0") if name and (path := ROOT / name).is_file()]


def pins(lock: str) -> dict[str, str]:
    """Give the version of each package in a lock."""
    text = (ROOT / lock).read_text(encoding="utf-8")
    return dict(re.findall(r"^([A-Za-z0-9._-]+)==([^\s;\\]+)", text, re.MULTILINE))


def test_no_file_names_a_folder_of_one_machine_or_a_host_that_serves_packages():
    assert FOREIGN.search("see /" + "work/x")
    assert not FOREIGN.search("net" + "work/x")
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in committed_files()
        if path.stat().st_size < 2_000_000
        for number, line in enumerate(path.read_bytes().decode("utf-8", "replace").splitlines(), 1)
        if FOREIGN.search(line)
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_carries_hashes_and_no_addresses(lock):
    text = (ROOT / lock).read_text(encoding="utf-8")
    entries = re.split(r"^(?=[A-Za-z0-9])", text, flags=re.MULTILINE)[1:]
    assert len(entries) == len(pins(lock)) > 30
    assert [entry.split()[0] for entry in entries if "--hash=sha256:" not in entry] == []
    assert re.findall(r"://|--(?:extra-)?index|--find-links|@ ", text) == []


def test_what_runs_the_site_is_tested_in_the_same_versions():
    run, dev = (pins(lock) for lock in LOCKS)
    assert {name: dev.get(name) for name in run} == run


def test_each_declared_dependency_is_locked():
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    head, group = text.split("[dependency-groups]")
    for part, lock in ((head, LOCKS[0]), (group.split("# ---")[0], LOCKS[1])):
        declared = re.findall(r'^    "([A-Za-z0-9._-]+)', part, re.MULTILINE)
        assert len(declared) > 10
        assert [name for name in declared if name not in pins(lock)] == []


def test_make_help_lists_every_target():
    text = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = re.search(r"^\.PHONY: (.*)$", text, re.MULTILINE)
    assert targets
    told = subprocess.run(["make", "help"], cwd=ROOT, capture_output=True, text=True, check=True)
    listed = re.findall(r"^make ([a-z]+) +\S", told.stdout, re.MULTILINE)
    assert listed == targets[1].split()
    assert re.findall(r"^([a-z]+):", text, re.MULTILINE) == listed
