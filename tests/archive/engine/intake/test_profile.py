"""Many plain numbers are seen at once, and just as if each had been looked at by itself."""

import random

import pytest

from archive.engine.intake import profile
from archive.engine.intake.profile import Column, Profiler
from archive.engine.intake.values import kind_of

DRAWS = {
    "integer": lambda draw: str(draw.randrange(-5, 200_000)),
    "days in eight digits": lambda draw: (
        f"2026{draw.randrange(1, 13):02}{draw.randrange(1, 29):02}"
    ),
    "point": lambda draw: f"{draw.random() * 90_000:.2f}",
    "comma": lambda draw: f"{draw.random() * 90:.2f}".replace(".", ","),
    "thousand": lambda draw: f"{draw.randrange(1, 90)},{draw.randrange(1_000):03}",
    "with gaps": lambda draw: draw.choice(["", str(draw.randrange(9_999))]),
    "mixed": lambda draw: draw.choice(
        [str(draw.randrange(999)), f"{draw.random():.3f}", " 7", "x"]
    ),
    "line breaks": lambda draw: f"{draw.randrange(999)}\n{draw.randrange(999)}",
    "signs": lambda draw: draw.choice("+-") + str(draw.randrange(99_999)),
}


def seen(cells: list[str]) -> Column:
    profiler = Profiler()
    profiler.read(((row, [cell]) for row, cell in enumerate(cells, start=2)), 1)
    return profiler.columns[0]


@pytest.mark.parametrize("name", DRAWS)
def test_numbers_are_seen_many_at_once_as_one_by_one(monkeypatch, name):
    draw = random.Random(20260301)
    cells = [DRAWS[name](draw) for _ in range(5_000)]
    at_once = seen(cells)
    monkeypatch.setattr(profile, "MANY", len(cells) + 1)
    one_by_one = seen(cells)
    assert at_once == one_by_one
    assert at_once.kinds.total() == len(cells)


def test_what_is_taken_for_plain_is_of_that_kind_alone():
    draw = random.Random(20260302)
    signs = "0123456789+-.,eE \n"
    taken = 0
    for _ in range(20_000):
        cell = "".join(draw.choices(signs, k=draw.randint(1, 9)))
        for kind, pattern in profile._PLAIN.items():
            if pattern.fullmatch(cell + "\n") and "\n" not in cell:
                assert kind_of(cell) == kind, cell
                taken += 1
    assert taken > 300
