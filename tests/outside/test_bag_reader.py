"""Our reader of bags against the Library of Congress's suite, and against bagit-python.

Source: github.com/LibraryOfCongress/bagit-conformance-suite (STRANDLINE_SUITES/bagit).
"""

import os
from pathlib import Path

import bagit
import pytest

from archive.engine.bags import faults_of

pytestmark = [
    pytest.mark.outside,
    pytest.mark.filterwarnings("ignore:'count' is passed as positional argument"),
]

NOT_LENT = Path("not-lent")
SUITES = Path(os.environ.get("STRANDLINE_SUITES") or NOT_LENT) / "bagit"


def bags_of(*groups: str) -> list[Path]:
    """Give the bags of some groups of the suite."""
    found = [path for group in groups for path in sorted(SUITES.glob(f"*/{group}/*"))]
    return [path for path in found if path.is_dir()]


def test_valid_bags_are_taken_and_invalid_ones_refused(suites: Path) -> None:
    valid, invalid = bags_of("valid"), bags_of("invalid", "linux-only", "windows-only")
    assert (len(valid), len(invalid)) == (13, 26)
    refused = {str(path.relative_to(suites)): faults_of(path) for path in valid}
    # A bag with holes asks for files elsewhere; nothing is fetched here, so all must be in it.
    assert {name: found for name, found in refused.items() if found} == {}
    taken = [path.name for path in invalid if not faults_of(path)]
    assert taken == []


def test_a_bag_that_is_only_warned_of_is_taken_where_its_files_are_whole(suites: Path) -> None:
    told = {path.name: bool(faults_of(path)) for path in bags_of("warning")}
    assert len(told) == 6
    assert not told["made-with-md5sum-tools"]
    assert not told["same-filename-listed-twice-with-the-same-hash"]


def test_a_bag_of_bagit_python_is_whole_and_each_change_is_seen(tmp_path: Path) -> None:
    (tmp_path / "scans.csv").write_bytes(b"scan\n1\n")
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "notes 1.txt").write_bytes(b"x")
    bagit.make_bag(str(tmp_path), {"External-Identifier": "one"}, checksums=["sha256", "md5"])
    assert faults_of(tmp_path) == []
    for name in ("data/scans.csv", "bag-info.txt", "bagit.txt", "manifest-md5.txt"):
        path = tmp_path / name
        whole = path.read_bytes()
        path.write_bytes(whole + b" ")
        assert faults_of(tmp_path), name
        path.unlink()
        assert faults_of(tmp_path), name
        path.write_bytes(whole)
    (tmp_path / "data" / "more.csv").write_bytes(b"")
    assert "not listed in every manifest" in " ".join(faults_of(tmp_path))
