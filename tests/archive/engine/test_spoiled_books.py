"""Foreign files: what is asked is answered, and the table that is made of them is sound."""

from pathlib import Path

import pytest

from archive.engine.findings import Verdict
from archive.engine.intake.building import recipe_of
from archive.engine.intake.converting import convert_here
from archive.engine.intake.proposing import look
from archive.engine.limits import Limits
from archive.engine.run import check
from registry.errors import Unsound
from tests.archive.spoiled import DESCRIPTOR, sound
from tests.archive.spoiled_books import FOREIGN, Foreign

LIMITS = Limits()
TABLES = {one["name"]: one for one in DESCRIPTOR["resources"]}


@pytest.mark.parametrize("case", FOREIGN, ids=lambda case: case.name)
def test_whoever_answers_what_is_asked_gets_a_sound_table(case: Foreign, tmp_path: Path) -> None:
    path = tmp_path / case.file
    path.write_bytes(case.content)
    table = path.stem
    made = look(path, case.file, TABLES[table], None, {}, LIMITS)
    chosen = {one.key: one.chosen for one in made.decisions}
    assert {key: chosen.get(key) for key in case.chosen} == case.chosen
    assert {one.key for one in made.asked} == set(case.answers)
    assert set(case.told) <= {one.code for one in made.notices}
    assert all(one.question.endswith("?") and one.reason for one in made.decisions)
    if case.answers:
        with pytest.raises(Unsound, match="not converted"):
            recipe_of(made, {})
    room = tmp_path / "package"
    room.mkdir()
    for name, content in sound().files().items():
        (room / name).write_bytes(content)
    out = room / f"{table}.csv"
    out.unlink()
    convert_here(path, recipe_of(made, case.answers), out, LIMITS)
    report = check(room, expected=DESCRIPTOR)
    assert [finding.message for finding in report.findings] == []
    assert report.verdict is Verdict.VALID
    assert {one.name: one.rows for one in report.tables} == {"tanks": 3, "checks": 18}
    assert path.read_bytes() == case.content
