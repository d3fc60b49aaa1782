"""A hundred spoiled files: each brings its finding, its cause and its remedy, and can be mended."""

import hashlib
from datetime import date
from pathlib import Path

import pytest

from archive.engine.causes import FaultsByTable, Suspicion, suspect
from archive.engine.causes.suspecting import tables_of
from archive.engine.corrections import Correction, correction_of, mended
from archive.engine.corrections.files import SwapFiles
from archive.engine.findings import Verdict
from archive.engine.reports import Report
from archive.engine.run import check
from tests.archive.following import follow
from tests.archive.spoiled import DESCRIPTOR, SPOILED, Spoiled, sound

TODAY = date(2026, 11, 24)
ROUNDS = 3
"""How often one may have to correct and check again: a file may be spoiled in two ways at once."""


def laid_out(room: Path, files: dict[str, bytes]) -> Path:
    room.mkdir()
    for name, content in files.items():
        (room / name).write_bytes(content)
    return room


LOOKS: dict[bytes, tuple[Report, list[Suspicion]]] = {}


def looked_at(room: Path) -> tuple[Report, list[Suspicion]]:
    """Check a package, and seek its causes; once for the same bytes, which many cases end in."""
    files = sorted((path.name, path.read_bytes()) for path in room.iterdir())
    mark = hashlib.sha256(repr(files).encode()).digest()
    if mark not in LOOKS:
        report = check(room, expected=DESCRIPTOR)
        faults = FaultsByTable(report.findings)
        LOOKS[mark] = report, suspect(room, faults, expected=DESCRIPTOR, today=TODAY)
    return LOOKS[mark]


def corrected(room: Path, suspicions: list[Suspicion], target: Path) -> Path:
    """Make every correction that is offered, into another folder."""
    files = {path.name: path.read_bytes() for path in room.iterdir()}
    tables = {table.name: table for table in tables_of(room, expected=DESCRIPTOR)}
    chosen: dict[str, list[Correction]] = {}
    for one in suspicions:
        if one.correction is not None:
            chosen.setdefault(one.table, []).append(correction_of(one.correction.as_dict()))
    for name, corrections in chosen.items():
        table = tables[name]
        swap = next((one for one in corrections if isinstance(one, SwapFiles)), None)
        if swap is not None:
            other = tables[swap.other].where
            files[table.where], files[other] = files[other], files[table.where]
            continue
        once = b"".join(mended(table.path, table.layout, corrections))
        assert once == b"".join(mended(table.path, table.layout, corrections))
        files[table.where] = once
    return laid_out(target, files)


def test_the_package_is_sound_before_it_is_spoiled_and_nothing_is_suspected(tmp_path: Path) -> None:
    report, suspicions = looked_at(laid_out(tmp_path / "0", sound().files()))
    assert [finding.message for finding in report.findings] == []
    assert suspicions == []


def test_there_are_a_hundred_of_them_and_each_is_another_one() -> None:
    assert len({one.name for one in SPOILED}) == len(SPOILED) >= 100


@pytest.mark.parametrize("case", SPOILED, ids=lambda case: case.name)
def test_a_spoiled_file_is_explained_and_mended(case: Spoiled, tmp_path: Path) -> None:
    room = laid_out(tmp_path / "0", case.files())
    report, suspicions = looked_at(room)
    before = {path.name: path.read_bytes() for path in room.iterdir()}
    codes = {finding.code for finding in report.findings}
    if case.code:
        assert case.code in codes
    named = [one for one in suspicions if one.kind == case.cause]
    if not case.cause:
        assert suspicions == []
        remedies = [one.remedy for one in report.findings if one.code == case.code]
        assert any(case.words in remedy for remedy in remedies), remedies
        return
    assert named, [one.kind for one in suspicions]
    assert case.words in named[0].remedy
    assert all(one.why and one.what for one in suspicions)
    if not case.is_mended:
        assert named[0].correction is None
        assert named[0].refused
        return
    for number in range(1, ROUNDS + 1):
        assert any(one.correction is not None for one in suspicions), report.findings
        room = corrected(room, suspicions, tmp_path / str(number))
        report, suspicions = looked_at(room)
        if report.verdict is Verdict.VALID:
            break
    assert [finding.message for finding in report.findings] == []
    assert {path.name: path.read_bytes() for path in (tmp_path / "0").iterdir()} == before


@pytest.mark.parametrize("case", SPOILED, ids=lambda case: case.name)
def test_whoever_reads_the_remedies_repairs_the_file_by_hand(case: Spoiled, tmp_path: Path) -> None:
    sheet, notes = sound(), sound()
    case.spoil(sheet)
    for number in range(ROUNDS + 1):
        report, suspicions = looked_at(laid_out(tmp_path / str(number), sheet.files()))
        if report.verdict is Verdict.VALID:
            break
        follow(sheet, notes, suspicions, report.findings)
    assert [finding.message for finding in report.findings] == []
    assert number > 0 or not case.code
