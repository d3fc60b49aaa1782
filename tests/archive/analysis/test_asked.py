"""Analyses as they are asked, from a typed copy to numbers: handbook values and bad input."""

import datetime as dt
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from archive.analysis.asked.found import Found
from archive.analysis.asked.kinds import Request, checked, fits, proposed
from archive.analysis.asked.offered import KINDS
from archive.analysis.asked.running import run, told
from registry.errors import Unsound
from tests.archive.analysis.asking import asked_of, named, rows_of

type Ask = Callable[..., Found]


@pytest.fixture
def ask(tmp_path: Path) -> Ask:
    """Lay columns and ask."""
    return partial(asked_of, tmp_path)


PLANTS = {
    "weight": [
        4.17, 5.58, 5.18, 6.11, 4.50, 4.61, 5.17, 4.53, 5.33, 5.14,
        4.81, 4.17, 4.41, 3.59, 5.87, 3.83, 6.03, 4.89, 4.32, 4.69,
        6.31, 5.12, 5.54, 5.50, 5.37, 5.29, 4.92, 6.15, 5.80, 5.26,
    ],
    "plant": [f"p{n}" for n in range(30)],
    "group": ["ctrl"] * 10 + ["trt1"] * 10 + ["trt2"] * 10,
}  # fmt: skip
BY_GROUP = {"outcome": "weight", "unit": "plant", "treatment": "group"}


def test_several_arms_are_compared_as_the_handbook_has_it(ask: Ask) -> None:
    # Dobson (1983), as in R's help of PlantGrowth: F 4.846, p .01591; Tukey .3909 .1980 .0120.
    found = ask("comparison", PLANTS, BY_GROUP)
    assert found.choice is not None
    assert (found.choice.test, found.choice.proposed) == ("unit_f", "unit_f")
    chosen = named(found, "unit_f")
    assert dict(chosen.figures)["F"] == pytest.approx(4.846, abs=5e-4)
    assert chosen.p == pytest.approx(0.01591, abs=5e-6)
    pairs = [one.p for one in found.tests if one.name == "every_pair"]
    assert pairs == pytest.approx([0.3909, 0.1980, 0.0120], abs=5e-5)


def test_a_test_that_was_asked_for_stands_first_and_the_proposed_one_beside(ask: Ask) -> None:
    found = ask("comparison", PLANTS, BY_GROUP, test="kruskal_wallis")
    assert [one.place for one in found.tests][:2] == ["chosen", "beside"]
    assert found.choice is not None
    assert found.choice.test == "kruskal_wallis"


EGGS = {
    "fertile": [25] * 8,
    "hatched": [20, 18, 22, 19, 12, 15, 10, 14],
    "tank": list("abcdefgh"),
    "flow": ["brisk"] * 4 + ["still"] * 4,
}
BY_FLOW = {"fertile": "fertile", "hatched": "hatched", "unit": "tank", "treatment": "flow"}
DRAWN = {
    "method": "complete randomisation",
    "places": [[tank, flow, "", []] for tank, flow in zip("abcdefgh", EGGS["flow"], strict=True)],
    "commitment": "",
}


def test_eggs_in_tanks_are_compared_by_tanks_and_by_the_recorded_draw(ask: Ask) -> None:
    found = ask("hatching", EGGS, BY_FLOW, {"drawn": DRAWN}, reference="still")
    assert rows_of(found, "hatching")["brisk"][:3] == (4, 100, 79)
    assert named(found, "logit_t").figures[1] == ("df", 6.0)
    by_draw = named(found, "as_randomised")
    # 8!/(4! 4!) = 70 arrangements, the seen one and its mirror the farthest: 2/70.
    assert (by_draw.p, by_draw.smallest_p) == pytest.approx((2 / 70, 2 / 70))
    assert found.choice is not None
    assert found.choice.smallest_p == pytest.approx(2 / 70)


def test_units_count_in_the_arm_to_which_they_were_allocated(ask: Ask) -> None:
    moved = {**EGGS, "flow": ["still", *EGGS["flow"][1:]]}
    found = ask("hatching", moved, BY_FLOW, {"drawn": DRAWN}, reference="still")
    assert any("allocated" in one.what for one in found.gaps)
    assert named(found, "as_randomised").p == pytest.approx(2 / 70)


def test_arms_are_taken_from_the_draw_where_the_table_names_none(ask: Ask) -> None:
    blind = {name: column for name, column in EGGS.items() if name != "flow"}
    columns = {name: column for name, column in BY_FLOW.items() if name != "treatment"}
    found = ask("hatching", blind, columns, {"drawn": DRAWN})
    assert set(rows_of(found, "hatching")) == {"brisk", "still"}
    with pytest.raises(Unsound, match="revealed"):
        ask("hatching", blind, columns)


def test_growth_is_a_rate_of_each_tank(ask: Ask) -> None:
    table = {
        "mass": [10.0, 11, 10, 11, 20, 24, 30, 33],
        "day": [dt.date(2026, 1, 1)] * 4 + [dt.date(2026, 2, 5)] * 4,
        "tank": list("abcdabcd"),
        "light": [16, 16, 8, 8] * 2,
    }
    columns = {"mass": "mass", "time": "day", "unit": "tank", "treatment": "light"}
    found = ask("growth", table, columns)
    # 10 g to 20 g in 35 days: 100 ln 2 / 35 = 1.98 per cent a day.
    assert rows_of(found, "units")["a"][1] == pytest.approx(1.98, abs=5e-3)
    course = next(one.rows for one in found.tables if one.name == "course")
    assert course[0][:4] == ("16", 0.0, 2, 10.5)


REMISSION = {
    "weeks": [
        10, 7, 32, 23, 22, 6, 16, 34, 32, 25, 11, 20, 19, 6, 17, 35, 6, 13, 9, 6, 10,
        1, 22, 3, 12, 8, 17, 2, 11, 8, 12, 2, 5, 4, 15, 8, 23, 5, 11, 4, 1, 8,
    ],
    "relapsed": [
        True, True, False, True, True, True, True, False, False, False, False, False, False,
        True, False, False, True, True, False, False, False, *([True] * 21),
    ],
    "patient": [f"p{n}" for n in range(42)],
    "treated": ["6-MP"] * 21 + ["control"] * 21,
}  # fmt: skip


def test_times_to_an_event_give_the_published_curve_and_log_rank(ask: Ask) -> None:
    # Freireich (1963) in Gehan (1965): medians 23 and 8, log-rank 16.79.
    columns = {
        "time": "weeks", "happened": "relapsed", "unit": "patient", "treatment": "treated",
    }  # fmt: skip
    found = ask("survival", REMISSION, columns)
    medians = rows_of(found, "medians")
    assert (medians["6-MP"][2], medians["control"][2]) == (23, 8)
    assert dict(named(found, "log_rank").figures)["χ²"] == pytest.approx(16.79, abs=5e-3)


def test_scans_give_a_budget_hours_and_what_was_out_of_sight(ask: Ask) -> None:
    table = {
        "at": [f"2026-01-01T{9 + n // 4:02}:00:00+00:00" for n in range(12)],
        "ray": ["X", "Y"] * 6,
        "did": ["rest", "swim", "hidden", "walk"] * 3,
        "session": ["s1"] * 6 + ["s2"] * 6,
    }
    columns = {"animal": "ray", "behaviour": "did", "session": "session", "time": "at"}
    rules = {"recorded": ["scan", "instantaneous"]}
    found = ask("budget", table, columns, rules, unseen=["hidden"])
    assert rows_of(found, "budget")["rest"][0] == 0.5
    assert [row[1] for one in found.tables if one.name == "hours" for row in one.rows] == [
        9,
        10,
        11,
    ]
    for refused in (["ad_libitum", "continuous"], ["scan", "one_zero"]):
        with pytest.raises(Unsound, match="cannot be computed"):
            ask("budget", table, columns, {"recorded": refused})


def test_zones_are_held_against_their_size_and_a_strange_one_is_told(ask: Ask) -> None:
    table = {"ray": ["X"] * 100, "zone": ["a"] * 60 + ["b"] * 25 + ["c"] * 10 + ["d"] * 5}
    areas = {"a": 0.4, "b": 0.3, "c": 0.2, "d": 0.1}
    columns = {"animal": "ray", "zone": "zone"}
    found = ask("space", table, columns, areas=areas)
    # Plowman (2003) on these counts by hand: .2222.
    # As if zones were equal, by Dickens (1955): .4667.
    assert rows_of(found, "animals")["X"] == pytest.approx((0.2222, 0.4667), abs=5e-5)
    nobody = ask("space", {**table, "ray": [""] * 100}, columns, areas=areas)
    assert any("No row says which animal" in one.why for one in nobody.gaps)
    lacks = ask("space", table, columns, areas={"a": 0.4, "b": 0.3, "c": 0.2})
    assert any("no zone d" in one.why for one in lacks.gaps)


def test_observers_of_the_same_moments_are_held_against_each_other(ask: Ask) -> None:
    table = {
        "at": [1, 2, 3, 4, 5, 6] * 2,
        "who": ["A"] * 6 + ["B"] * 6,
        "did": list("aabbababbbab"),
    }
    columns = {"moment": "at", "observer": "who", "behaviour": "did"}
    found = ask("agreement", table, columns, {"ethogram": ["a", "b", "c"]})
    row = rows_of(found, "pairs")["A and B"]
    assert (row[1], row[4], row[7], row[8]) == pytest.approx((5 / 6, 2 / 3, 2, 3))
    with pytest.raises(Unsound, match="one observer"):
        ask("agreement", {**table, "who": ["A"] * 12}, columns)


def test_cohorts_are_pooled_and_one_that_cannot_be_is_told(tmp_path: Path) -> None:
    values = {"2024": [5.0, 6, 7, 8, 3, 4, 4, 5], "2025": [5.0, 6, 7, 9, 3, 4, 6, 5]}
    paths = {}
    for name, mass in {**values, "2026": [5.0, 6, 7, 9]}.items():
        paths[name] = tmp_path / f"{name}.parquet"
        n = len(mass)
        table = {"mass": mass, "tank": list("abcdefgh")[:n], "flow": list("xxxxyyyy")[:n]}
        pq.write_table(pa.table(table), paths[name])
    columns = {"outcome": "mass", "unit": "tank", "treatment": "flow"}
    found = run(Request("cohorts", "t", columns, {"reference": "y"}), paths, {})
    assert [row[2] for row in found.tables[0].rows] == pytest.approx([2.5, 2.25])
    assert named(found, "by_stratum").effect == pytest.approx(2.375)
    assert any(one.what.startswith("2026") for one in found.gaps)


def test_all_ties_one_animal_and_no_name_are_said_in_words(ask: Ask) -> None:
    same = {**PLANTS, "weight": [5.0] * 30}
    found = ask("comparison", same, BY_GROUP)
    assert any("spread is 0" in one.what for one in found.gaps)
    one = {"ray": ["X"] * 3, "did": ["rest", "swim", "rest"]}
    found = ask("budget", one, {"animal": "ray", "behaviour": "did"})
    assert any("One animal" in gap.why for gap in found.gaps)
    nobody = {"plant": [""] * 30, "weight": PLANTS["weight"], "group": PLANTS["group"]}
    with pytest.raises(Unsound, match="No row names a unit"):
        ask("comparison", nobody, BY_GROUP)


def test_the_digest_is_of_the_numbers_alone(ask: Ask) -> None:
    first, again = (told(ask("hatching", EGGS, BY_FLOW))["digest"] for _ in range(2))
    assert first == again
    other = ask("hatching", {**EGGS, "hatched": [21, *EGGS["hatched"][1:]]}, BY_FLOW)
    assert told(other)["digest"] != first


def test_roles_of_the_dictionary_propose_the_columns() -> None:
    schema = {
        "fields": [
            {"name": "tank", "type": "string", "x:role": "unit"},
            {"name": "light", "type": "integer", "x:role": "treatment"},
            {"name": "weighed_on", "type": "date", "x:role": "time"},
            {"name": "mass", "type": "number", "x:role": "outcome"},
        ]
    }
    guessed = proposed(KINDS["growth"], schema)
    assert guessed == {"mass": "mass", "time": "weighed_on", "unit": "tank", "treatment": "light"}
    assert checked(Request("growth", "t", guessed), schema)
    assert not fits(KINDS["agreement"], schema)
    with pytest.raises(Unsound, match="no such analysis"):
        checked(Request("oracle", "t", {}), schema)
