"""Every kind of bad input, by name: told in words, in bounded time and memory, never a fault.

For whoever asks whether a hostile upload can hurt: the table says what is sent, and what is said.
Details stand beside each reader in tests/archive/engine.
"""

import io
import json
import stat
import time
import tracemalloc
import warnings
import zipfile
from collections.abc import Callable, Mapping
from typing import Any

import pytest
from django.test import Client

from archive import tasks
from archive.models import Deposit
from archive.rounds import lay_out
from registry.errors import Unsound
from tests.worlds.archive import check_here, descriptor, make_submitted, rows

pytestmark = pytest.mark.django_db

MOST_S = 20
MOST_BYTES = 64_000_000
"""What one check may hold of Python's own memory here; what is sent unfolds to 30 MB and more."""
FAR_CELL = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'

type Files = Mapping[str, bytes | Callable[[], bytes]]
"""What is large is made when its turn comes."""
NOT_OPENED = "is a workbook. It was not opened"


def packed(*members: tuple[str | zipfile.ZipInfo, bytes]) -> bytes:
    """Give a zip of these members, whatever their names are."""
    written = io.BytesIO()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a name twice is what is tried
        with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in members:
                archive.writestr(name, content)
    return written.getvalue()


def bomb() -> bytes:
    return packed(("scans.csv", b"0" * 40_000_000))


def link() -> zipfile.ZipInfo:
    found = zipfile.ZipInfo("scans.csv")
    found.external_attr = (stat.S_IFLNK | 0o777) << 16
    return found


def described(**change: Any) -> bytes:
    """Give a descriptor of the scans with something changed in its one resource."""
    whole = descriptor()
    whole["resources"][0] |= {"path": "scans.csv", "type": "table", **change}
    return json.dumps(whole).encode()


def workbook() -> bytes:
    """Give a workbook of one far cell, its one sheet 30 MB when unfolded."""
    return packed(
        ("[Content_Types].xml", b"<Types/>"),
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/worksheets/sheet1.xml", FAR_CELL + b" " * 30_000_000),
    )


LINE = "1,R-01,,REST,1"
CASES: dict[str, tuple[Files, str]] = {
    "a zip that leads out": ({"a.zip": packed(("../scans.csv", b"a"))}, "leads out"),
    "a zip with an absolute name": ({"a.zip": packed(("/scans.csv", b"a"))}, "leads out"),
    "a zip with a name twice": (
        {"a.zip": packed(("scans.csv", b"a"), ("scans.csv", b"b"))},
        "the same name",
    ),
    "a zip with case twins": (
        {"a.zip": packed(("scans.csv", b"a"), ("Scans.csv", b"b"))},
        "the same name on some disks",
    ),
    "a zip with a link": ({"a.zip": packed((link(), b"/etc/hosts"))}, "is a link"),
    "a zip bomb": ({"a.zip": bomb}, "times its size"),
    "a zip of many files": (
        {"a.zip": packed(*((f"{n}.csv", b"") for n in range(300)))},
        "It holds 300 files",
    ),
    "a zip cut short": ({"a.zip": packed(("scans.csv", rows()))[:-30]}, "cut short"),
    "a zip inside a zip": (
        {"a.zip": packed(("inner.zip", packed(("scans.csv", rows()))))},
        "neither a datapackage.json nor a table",
    ),
    "a descriptor with a URL": (
        {"datapackage.json": described(path="https://a.example/scans.csv"), "scans.csv": rows()},
        "address",
    ),
    "a descriptor with a path outside": (
        {"datapackage.json": described(path="../../etc/hosts"), "scans.csv": rows()},
        "leads out",
    ),
    "a descriptor with a schema elsewhere": (
        {"datapackage.json": described(schema="https://a.example/s.json"), "scans.csv": rows()},
        "stands elsewhere",
    ),
    "a descriptor that is no JSON": (
        {"datapackage.json": b"{", "scans.csv": rows()},
        "JSON",
    ),
    "a descriptor nested without end": (
        {"datapackage.json": b"[" * 100_000, "scans.csv": rows()},
        "deep",
    ),
    "the wrong encoding": (
        {"scans.csv": rows(LINE).replace(b"REST", "RÉST".encode("latin-1"))},
        "UTF-8",
    ),
    "sixteen-bit letters": ({"scans.csv": rows(LINE).decode().encode("utf-16")}, "UTF-8"),
    "ragged rows": ({"scans.csv": rows(LINE, "2,R-01", "3,R-01,,REST,1,extra")}, "cell"),
    "an unclosed quotation mark": ({"scans.csv": rows(LINE, '2,"R-01,,REST,1')}, "quotation mark"),
    "an empty file": ({"scans.csv": b""}, "empty"),
    "a blank line and no more": ({"scans.csv": b"\n"}, "empty"),
    "the wrong delimiter": ({"scans.csv": rows(LINE).replace(b",", b";")}, "column"),
    "a NUL": ({"scans.csv": rows("1,R-\x0001,,REST,1")}, "NUL"),
    "a cell of a megabyte": ({"scans.csv": rows(f"1,{'R' * 1_000_000},,REST,1")}, "cell"),
    "a workbook with one far cell": ({"scans.xlsx": workbook}, NOT_OPENED),
    "a workbook by another name": ({"scans.csv": workbook}, NOT_OPENED),
    "an older workbook": (
        {"scans.xls": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(4096)},
        "is a workbook",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_bad_input_is_told_in_words_in_bounded_time_and_memory(name: str, client: Client) -> None:
    sent, said = CASES[name]
    files = {name: one if isinstance(one, bytes) else one() for name, one in sent.items()}
    deposit = make_submitted(files, dictionary="datapackage.json" not in files)
    began = time.monotonic()
    tracemalloc.start()
    try:
        deposit = check_here(deposit)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert deposit.verdict in {"invalid", "not checked"}
    told = [one for kind in deposit.summary["findings"].values() for one in kind]
    assert any(said.lower() in one["message"].lower() for one in told), [
        one["message"] for one in told
    ]
    assert all(one["message"].strip() and one["remedy"].strip() for one in told)
    assert peak - sum(map(len, files.values())) < MOST_BYTES
    assert time.monotonic() - began < MOST_S
    client.force_login(deposit.maker)
    page = client.get(deposit.get_absolute_url())
    assert page.status_code == 200
    assert "Must be put right" in page.content.decode()
    kept = {file.name for file in Deposit.objects.get(pk=deposit.pk).files.all()}
    assert kept == set(files), "what was sent is lost"


def test_a_far_cell_is_refused_before_the_workbook_is_opened() -> None:
    deposit = make_submitted({"scans.xlsx": workbook()})
    tracemalloc.start()
    try:
        with pytest.raises(Unsound, match="workbook"):
            lay_out(deposit)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < 2_000_000, "the sheet was unfolded"


def test_a_hostile_pattern_costs_its_own_table_and_the_deposit_comes_back(settings: Any) -> None:
    whole = descriptor()
    whole["resources"][0] |= {"path": "scans.csv", "type": "table"}
    whole["resources"][0]["schema"]["fields"][1]["constraints"] = {"pattern": "^(R+)+$"}
    deposit = make_submitted(
        {
            "datapackage.json": json.dumps(whole).encode(),
            "scans.csv": rows(f"1,{'R' * 60}-,,REST,1"),
        },
        dictionary=False,
    )
    settings.CHECK_SECONDS = 6
    began = time.monotonic()
    checked = tasks.check(deposit)
    assert checked.verdict in {"invalid", "not checked"}
    assert time.monotonic() - began < 3 * settings.CHECK_SECONDS
    assert checked.summary["findings"]
