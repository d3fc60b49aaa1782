"""Each awkward file is proposed as it should be, and becomes the table it should be."""

import csv
import io
from pathlib import Path

import pytest

from archive.engine.intake.building import recipe_of
from archive.engine.intake.converting import convert_here
from archive.engine.intake.proposing import look
from archive.engine.intake.recipe import Recipe
from archive.engine.limits import Limits
from registry.errors import Unsound
from tests.archive.engine.intake.cases import CASES, Case
from tests.archive.engine.intake.making import laid

LIMITS = Limits()
CANONICAL = {"plain", "old line ends", "a line break inside a cell"} | {
    "year, day, month",
    "units in the cells",
}
CONTRADICTORY = {
    "mixed dates",
    "days that the workbook turned round",
    "days that the workbook did not turn round",
}
EACH = pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)


def test_there_are_forty_cases_and_more() -> None:
    assert len({case.name for case in CASES}) == len(CASES) >= 40


@EACH
def test_it_is_proposed_as_it_should_be(case: Case, tmp_path: Path) -> None:
    path = laid(tmp_path, case.file, case.content)
    made = look(path, case.file, case.table, None, {}, LIMITS)
    chosen = {one.key: one.chosen for one in made.decisions}
    assert {key: chosen.get(key) for key in case.expected} == case.expected
    asked = {key for key, value in case.expected.items() if not value}
    assert {one.key for one in made.asked} == asked
    assert set(case.told) <= {one.code for one in made.notices}
    assert all(one.reason and one.question and one.options for one in made.decisions)
    assert made.is_canonical is (case.name in CANONICAL)


@EACH
def test_what_was_confirmed_gives_the_table_it_should_be(case: Case, tmp_path: Path) -> None:
    path = laid(tmp_path, case.file, case.content)
    made = look(path, case.file, case.table, None, case.answers, LIMITS)
    if any(not value for value in case.expected.values()):
        undecided = look(path, case.file, case.table, None, {}, LIMITS)
        with pytest.raises(Unsound):
            recipe_of(undecided, {})
    recipe = recipe_of(made, case.answers)
    done = convert_here(path, recipe, tmp_path / "out", LIMITS)
    text = (tmp_path / "out").read_bytes().decode()
    assert text == case.result
    assert done.rows == len(list(csv.reader(io.StringIO(text)))) - 1
    assert sum(one.count for one in done.left) == case.left
    # The preview is the head of that result, and each row knows where it came from.
    result = list(csv.reader(io.StringIO(text)))
    assert [list(row[1:]) for row in made.after] == result[: len(made.after)]
    for at, row in enumerate(made.after[1:], start=2):
        assert done.source_row(at) == int(row[0])
    # Again it gives the same, by a recipe that was written down and read back.
    again = Recipe.from_json(recipe.as_json())
    assert again == recipe
    assert convert_here(path, again, tmp_path / "again", LIMITS) == done
    assert len(recipe.words()) >= 5


@EACH
def test_the_recipe_of_last_time_answers_everything(case: Case, tmp_path: Path) -> None:
    path = laid(tmp_path, case.file, case.content)
    first = look(path, case.file, case.table, None, case.answers, LIMITS)
    recipe = recipe_of(first, case.answers)
    again = look(path, case.file, case.table, recipe, {}, LIMITS)
    asked = {one.key for one in again.asked}
    # Only dates that contradict each other are asked each time.
    assert asked <= {"dates:1", "swap:1"} if case.name in CONTRADICTORY else not asked
    assert again.changes == ()
    assert recipe_of(again, case.answers) == recipe
