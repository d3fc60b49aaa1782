"""Each further kind of analysis as it is asked: handbook values through the record, and bad input.

Values are those of tests/outside, where the sums themselves are held against them; here they come
through columns, gaps and tables.
"""

import datetime as dt
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from archive.analysis.asked.kinds import Request, checked
from archive.analysis.asked.offered import GROUPS, KINDS, for_plan
from archive.analysis.handing.paragraphs import KINDS as PARAGRAPHS
from archive.models import Analysis
from registry.design import Stream, phased
from registry.errors import Unsound
from tests.archive.analysis.asking import asked_of, cell, named

FOCAL = {"recorded": ["focal", "continuous"]}
NONE = float("nan")
BOUTS = "animal behaviour begin end session"
WATCHED: dict[str, list[Any]] = {
    "animal": ["Moss"] * 4 + ["Fern"] * 3,
    "session": ["s1"] * 7,
    "behaviour": ["swim", "oos", "swim", "breach", "swim", "rest", "breach"],
    "begin": [0.0, 40.0, 60.0, 70.0, 0.0, 50.0, 99.0],
    "end": [40.0, 60.0, 100.0, None, 50.0, 100.0, None],
}
"""Two animals, 100 seconds each: Moss was out of sight for 20, Fern never."""
PARTY = {
    "behaviour": [
        one
        for first, then, times in (
            ("a", "a", 10), ("a", "b", 2), ("b", "a", 3), ("b", "b", 9),
        )
        for _ in range(times)
        for one in (first, then)
    ],
}  # fmt: skip
PARTY["animal"] = ["Moss"] * len(PARTY["behaviour"])
PARTY["session"] = [f"s{n // 2}" for n in range(len(PARTY["behaviour"]))]
JUDGED = ["9258", "6132", "8468", "7126"]
JUDGES = [[int(one) for one in row] for row in JUDGED] + [[10, 5, 6, 9], [6, 2, 4, 7]]
CRICKETS = {
    "temperature": [
        20.8, 20.8, 24, 24, 24, 24, 26.2, 26.2, 26.2, 26.2, 28.4, 29, 30.4, 30.4,
        17.2, 18.3, 18.3, 18.3, 18.9, 18.9, 20.4, 21, 21, 22.1, 23.5, 24.2,
        25.9, 26.5, 26.5, 26.5, 28.6,
    ],
    "rate": [
        67.9, 65.1, 77.3, 78.7, 79.4, 80.4, 85.8, 86.6, 87.5, 89.1, 98.6, 100.8, 99.3, 101.7,
        44.3, 47.2, 47.6, 49.6, 50.3, 51.8, 60, 58.5, 58.9, 60.7, 69.8, 70.9,
        76.2, 76.1, 77, 77.7, 84.7,
    ],
    "unit": [f"c{n}" for n in range(31)],
    "family": ["ex"] * 14 + ["ni"] * 17,
}  # fmt: skip
MOTHS = {
    "dose": [1.0, 2, 4, 8, 16, 32],
    "responded": [1, 4, 9, 13, 18, 20],
    "of": [20] * 6,
    "unit": list("abcdef"),
}
ABAB = "A" * 5 + "B" * 6 + "A" * 6 + "B" * 7
PHASES = {
    "animal": ["Moss"] * 24,
    "order": list(range(24)),
    "phase": list(ABAB),
    "outcome": [float(n) for n in range(24)],
}
COURSES = {
    "animal": ["a"] * 3 + ["b"] * 3,
    "session": ["s1", "s2", "s3", "t1", "t2", "t3"],
    "covariate": [0.0, 1, 2, 0, 1, 2],
    "outcome": [1.0, 2, 3, 2, 4, 6],
}


@pytest.mark.parametrize(
    ("kind", "table", "columns", "options", "facts", "said"),
    [
        pytest.param(
            # By hand: Moss breached once in 80 visible seconds, Fern once in 100.
            "bouts", WATCHED, BOUTS, {}, FOCAL,
            [("acts", "breach", "times an hour", (3600 / 80 + 3600 / 100) / 2),
             ("acts", "breach", "latency, s", (70 + 99) / 2),
             ("acts", "swim", "number", 3),
             ("acts", "swim", "length of a bout, s", (40 + 50) / 2),
             ("acts", "swim", "cut short", 2),
             ("acts", "rest", "sessions without", 1),
             ("timed", "swim", "share", (1.0 + 0.5) / 2),
             ("timed", "swim", "least, of all time", (0.8 + 0.5) / 2),
             ("timed", "swim", "most, of all time", (1.0 + 0.5) / 2),
             ("each", "Moss, breach", "number", 1)],
            id="bouts by hand",
        ),
        pytest.param(
            # Zar (1999), example 3.3, from memory: four kinds alike, H = ln 4 = .602 ln 10.
            "bouts",
            {"animal": ["Moss"] * 4, "session": ["s"] * 4, "behaviour": list("abcd"),
             "begin": [0.0, 5, 10, 15], "end": [5.0, 10, 15, 20]},
            BOUTS, {}, FOCAL,
            [("diversity", "Moss", "Shannon’s H, nats", 0.602 * 2.302585),
             ("diversity", "Moss", "evenness", 1.0)],
            id="diversity of a handbook",
        ),
        pytest.param(
            # By hand: "swim" in 2 of 2 intervals of Moss, "rest" in one, of which none was hidden.
            "one_zero",
            {"animal": ["Moss"] * 4, "interval": [1, 1, 2, 2],
             "behaviour": ["swim", "swim", "swim", "rest"]},
            "animal behaviour interval", {}, {"recorded": ["focal", "one_zero"]},
            [("intervals", "swim", "share", 1.0), ("intervals", "rest", "share", 0.5)],
            id="one-zero by hand",
        ),
        pytest.param(
            # Of a 2 × 2 table the adjusted residual is the square root of X² (Agresti 2007, 2.4.5):
            # 24 (10·9 − 2·3)² / (12·12·13·11) = 8.2238.
            "sequence", PARTY, "animal behaviour session", {"repeats": True}, {},
            [("steps", "a → a", "adjusted residual", 8.2238**0.5),
             ("steps", "a → b", "adjusted residual", -(8.2238**0.5)),
             ("independence", "all transitions", "χ²", 8.2238)],
            id="adjusted residuals",
        ),
        pytest.param(
            # Shrout and Fleiss (1979), table 4.
            "measured",
            {"moment": [f"m{n}" for n in range(6) for _ in range(4)], "observer": list("abcd") * 6,
             "outcome": [float(one) for row in JUDGES for one in row]},
            "moment observer outcome", {}, {},
            [("icc", "ICC(1,1): each thing measured by observers of its own", "value", 0.166),
             ("icc", "ICC(2,1): observers stand for all observers", "value", 0.290),
             ("icc", "ICC(3,1): these observers alone, their levels may differ", "value", 0.715),
             ("icc", "ICC(1,k): mean of observers, each thing with its own", "value", 0.443),
             ("icc", "ICC(2,k): mean of observers who stand for all", "value", 0.620),
             ("icc", "ICC(3,k): mean of these observers", "value", 0.909)],
            id="six forms of a paper",
        ),
        pytest.param(
            # Cohen (1968): .492.
            "agreement",
            {"moment": list(range(200)) * 2, "observer": ["x"] * 200 + ["y"] * 200,
             "behaviour": [
                 "abc"[at[side]]
                 for side in (0, 1)
                 for at, times in (((0, 0), 88), ((0, 1), 10), ((0, 2), 2), ((1, 0), 14),
                                   ((1, 1), 40), ((1, 2), 6), ((2, 0), 18), ((2, 1), 10),
                                   ((2, 2), 12))
                 for _ in range(times)
             ]},
            "moment observer behaviour", {}, {},
            [("pairs", "x and y", "kappa", 0.492)],
            id="kappa of a paper",
        ),
        pytest.param(
            # Fulton’s factor of 250 g and 27 cm: 1.2701 (formula, Ricker 1975).
            "condition",
            {"mass": [250.0, 200, 240, 230], "length": [27.0, 26, 25, 24], "unit": list("abcd"),
             "treatment": ["x", "x", "y", "y"]},
            "mass length unit treatment", {}, {},
            [("units", "a", "mean", 1.2701)],
            id="condition by its formula",
        ),
        pytest.param(
            # 150 g of feed for 100 g of gain: 1.5, whichever rows it came in.
            "feeding",
            {"feed": [100.0, 50, 90, 80, 70], "gain": [60.0, 40, 50, 50, 50],
             "unit": list("aabcd"), "treatment": ["x", "x", "x", "y", "y"]},
            "feed gain unit treatment", {}, {},
            [("units", "a", "mean", 1.5), ("arms", "y", "mean", (80 + 70) / 100)],
            id="feed conversion by its formula",
        ),
        pytest.param(
            # Baskerville and Emin (1969): 10 to 24 °C above 12 gives 5.326, 13 to 20 gives 4.5.
            "warmth",
            {"lowest": [10.0, 13.0], "highest": [24.0, 20.0],
             "time": [dt.date(2026, 1, 1), dt.date(2026, 1, 2)]},
            "lowest highest time", {"base": 12.0}, {},
            [("warmth", "all", "°C days", 5.3256 + 4.5), ("warmth", "all", "days missing", 0)],
            id="degree-days of a paper",
        ),
        pytest.param(
            # Without a column of highest ones, readings of a day give its extremes.
            "warmth",
            {"lowest": [10.0, 18.0, 24.0],
             "time": [f"2026-01-01T{hour:02}:00:00+00:00" for hour in (4, 9, 14)]},
            "lowest time", {"base": 12.0}, {},
            [("warmth", "all", "°C days", 5.3256)],
            id="degree-days of a log",
        ),
    ],
)  # fmt: skip
def test_published_values_come_through_the_kind(
    tmp_path: Path,
    kind: str,
    table: dict[str, list[Any]],
    columns: str,
    options: dict[str, Any],
    facts: dict[str, Any],
    said: list[tuple[str, Any, str, float]],
) -> None:
    found = asked_of(tmp_path, kind, table, columns, facts, **options)
    for name, row, head, value in said:
        assert cell(found, name, row, head) == pytest.approx(value, abs=6e-4), (name, row, head)
    assert found.said


def test_tests_of_further_kinds_give_the_published_numbers(tmp_path: Path) -> None:
    ask = partial(asked_of, tmp_path)
    # Walker (1962), as the Handbook of Biological Statistics has it (from memory): Q10 1.684
    # (1.616, 1.755), species with a level each.
    found = named(ask("rates", CRICKETS, "rate temperature unit family"), "q10")
    assert (found.effect, found.low, found.high) == pytest.approx((1.684, 1.616, 1.755), abs=2e-3)
    # Venables and Ripley, MASS, 4th ed., p. 192: the males alone, by a public package the dose of
    # half is 4.69 (from memory).
    found = ask("response", MOTHS, "dose responded of unit", scale="logarithm")
    half = named(found, "half_dose")
    assert half.low < 4.69 < half.high
    assert half.effect == pytest.approx(4.69, abs=0.05)
    # Onghena (1992), from memory: ABAB of 24 sessions, 4 or more of each, 165 arrangements.
    found = ask("reversal", PHASES, "animal order phase outcome", shortest=4)
    by_draw = named(found, "phases_as_randomised")
    assert dict(by_draw.figures)["arrangements"] == 165
    assert by_draw.effect == pytest.approx(cell(found, "animals", "Moss", "difference"))
    # Lorch and Myers (1990): a line for each animal, here 1 and 2, and their mean.
    found = ask("along", COURSES, "animal session covariate outcome")
    assert named(found, "slopes_t").effect == pytest.approx(1.5)
    assert cell(found, "slopes", "b", "slope") == pytest.approx(2.0)


def test_orders_that_the_register_drew_are_what_a_reversal_is_held_against(tmp_path: Path) -> None:
    table = {
        "animal": list("ppqqrrss"),
        "order": [1, 2] * 4,
        "phase": ["on", "off", "off", "on", "on", "off", "off", "on"],
        "outcome": [5.0, 2, 1, 6, 7, 3, 2, 5],
    }
    orders = {"p": ["on", "off"], "q": ["off", "on"], "r": ["on", "off"], "s": ["off", "on"]}
    drawn = {"method": "crossover", "places": [[a, o[0], "", o] for a, o in orders.items()],
             "commitment": ""}  # fmt: skip
    ask = partial(asked_of, tmp_path, "reversal", columns="animal order phase outcome")
    found = ask(table=table, facts={"drawn": drawn})
    by_draw = named(found, "phases_as_randomised")
    # 4! / (2! 2!) ways to deal the orders; no shortest phase is asked for.
    assert dict(by_draw.figures)["arrangements"] == 6
    assert (by_draw.effect, by_draw.p) == (pytest.approx(3.75), pytest.approx(2 / 6))
    assert found.choice is not None
    assert (found.choice.test, found.choice.smallest_p) == (by_draw.name, by_draw.smallest_p)
    swapped = {**table, "phase": ["off", "on", *table["phase"][2:]]}
    told = ask(table=swapped, facts={"drawn": drawn})
    assert any("in the order that was drawn" in one.what for one in told.gaps)
    # Without a draw and without a rule nothing is gone through, and the means still stand.
    told = ask(table=table)
    assert [one.name for one in told.tests] == ["paired_t"]
    assert any("nobody said" in one.why for one in told.gaps)


def test_changes_that_the_register_drew_are_what_phases_are_held_against(tmp_path: Path) -> None:
    # Onghena (1992), from memory: 165 places for each animal, drawn for each by itself.
    allocated = phased(["Moss", "Fern"], ["A", "B"], Stream(bytes(32)), sessions=24, shortest=4)
    sequences = {one.unit: list(one.sequence) for one in allocated.places}
    places = [[one.unit, one.arm, one.block, list(one.sequence)] for one in allocated.places]
    drawn = {"method": allocated.method, "places": places, "given": {"shortest": 4},
             "commitment": ""}  # fmt: skip
    table = {
        "animal": ["Moss"] * 24 + ["Fern"] * 24,
        "order": [*range(24)] * 2,
        "phase": sequences["Moss"] + sequences["Fern"],
        "outcome": [float(one == "B") + n % 3 for own in sequences.values()
                    for n, one in enumerate(own)],
    }  # fmt: skip
    columns = "animal order phase outcome"
    found = named(
        asked_of(tmp_path, "reversal", table, columns, {"drawn": drawn}), "phases_as_randomised"
    )
    assert dict(found.figures)["arrangements"] == 165**2
    assert found.p <= 0.05
    # A session that stands under another phase than the drawn one counts as it was drawn.
    other = "A" if table["phase"][6] == "B" else "B"
    moved = {**table, "phase": [*table["phase"][:6], other, *table["phase"][7:]]}
    told = asked_of(tmp_path, "reversal", moved, columns, {"drawn": drawn})
    assert named(told, "phases_as_randomised").p == pytest.approx(found.p)
    assert any("in the order that was drawn" in one.what for one in told.gaps)


def test_noise_is_averaged_by_energy_and_media_stay_apart(tmp_path: Path) -> None:
    table = {
        "animal": ["a"] * 12,
        "session": [f"s{n // 2 % 3}" for n in range(12)],
        "medium": ["air"] * 6 + ["water"] * 6,
        "covariate": [60.0, 70, 50, 50, 55, 55, 110, 110, 120, 120, 115, 115],
        "behaviour": ["rest", "swim"] * 6,
    }
    found = asked_of(
        tmp_path, "along", table, "animal session medium covariate behaviour", target="rest"
    )
    # Energy of 60 and 70 dB: 67.4 (ISO 1996-1, from memory), where a plain mean gives 65.
    level = cell(found, "sessions_air", "a, s0", "covariate, mean level by energy")
    assert level == pytest.approx(67.4, abs=0.05)
    assert {one.name for one in found.tables} >= {"slopes_air", "slopes_water"}
    # A behaviour that is named is what is asked, though a number was proposed too.
    also = asked_of(
        tmp_path, "along", {**table, "outcome": [1.0] * 12},
        "animal session medium covariate behaviour outcome", target="rest",
    )  # fmt: skip
    assert named(also, "slopes_t").compared.startswith("share of “rest”")
    assert any("not put together" in one.what for one in found.gaps)
    # Animals that share a session share whatever else was in it: sessions then stand first.
    both = {name: [*column, *column] for name, column in table.items()}
    both["animal"] = ["a"] * 12 + ["b"] * 12
    both["behaviour"] = ["rest", "swim", "rest", "rest", "swim", "swim"] * 4
    shared = asked_of(
        tmp_path, "along", both, "animal session medium covariate behaviour", target="rest"
    )
    assert {one.name for one in shared.tests if one.place == "chosen"} == {"sessions_t"}


def test_an_interval_between_scans_is_judged_from_continuous_records(tmp_path: Path) -> None:
    long = {
        "animal": [f"a{n % 4}" for n in range(40)],
        "session": ["s"] * 40,
        "behaviour": ["swim"] * 40,
        "begin": [60.0 * (n // 4) for n in range(40)],
        "end": [60.0 * (n // 4) + 20 + 9 * (n % 4) for n in range(40)],
    }
    found = asked_of(tmp_path, "interval", long, BOUTS, FOCAL, every=[5.0, 45.0], minutes=10)
    row = "swim, every 5 s"
    assert cell(found, "tried", row, "share of time") == pytest.approx((20 + 29 + 38 + 47) / 240)
    assert cell(found, "tried", row, "fine enough") == "yes"
    # A bout of d seconds is missed with a chance of 1 − d / T (the design's own notes).
    missed = cell(found, "tried", "swim, every 45 s", "share of bouts missed")
    assert missed == pytest.approx((25 / 45 + 16 / 45 + 7 / 45) / 4)


def changed(**columns: list[Any]) -> dict[str, list[Any]]:
    return {**WATCHED, **columns}


@pytest.mark.parametrize(
    ("kind", "table", "columns", "options", "said", "still"),
    [
        ("bouts", changed(animal=[None] * 4 + ["Fern"] * 3), BOUTS, {}, "4 rows are left out",
         "acts"),
        ("bouts", changed(animal=[""] * 4 + [""] * 3, session=["s1"] * 4 + ["s2"] * 3), BOUTS, {},
         "No row says which animal", "acts"),
        ("sequence", {**PARTY, "animal": [""] * 48}, "animal behaviour session",
         {"repeats": True}, "No row says which animal", "steps"),
        ("along", {**COURSES, "animal": [""] * 6}, "animal session covariate outcome", {},
         "No row says which animal", "slopes"),
        ("reversal", {**PHASES, "animal": [""] * 24}, "animal order phase outcome",
         {"shortest": 4}, "No row says which animal", "animals"),
        ("bouts", changed(animal=["Moss"] * 7, session=["s1"] * 4 + ["s2"] * 3), BOUTS, {},
         "One animal", "acts"),
        ("bouts", changed(begin=[0.0, 30, 60, 70, 0, 50, 99]), BOUTS, {},
         "s1 of Moss. Bouts in each overlap", "acts"),
        ("bouts", changed(end=[40.0, 60, 100, None, 50, 700, None], closed=[100.0] * 7),
         f"{BOUTS} closed", {}, "lies outside the session", "acts"),
        ("bouts", changed(behaviour=["oos"] * 3 + ["breach", "swim", "rest", "breach"],
                          begin=[0.0, 40, 60, 70, 0, 50, 99]),
         BOUTS, {}, "visible time of Moss", "timed"),
        ("bouts", WATCHED, "animal behaviour begin end session", {"minutes": 2},
         "visible time none of it was recorded", "timed"),
        ("sequence", changed(session=["s1", None, *["s1"] * 5]), "animal behaviour session begin",
         {"repeats": False}, "1 rows are left out", "steps"),
        ("sequence", changed(begin=[0.0] * 7), "animal behaviour session begin", {},
         "the moment of the row before them", "steps"),
        ("along", {**COURSES, "covariate": [1.0] * 3 + [0.0, 1, 2]},
         "animal session covariate outcome", {}, "No slope of a", "slopes"),
        ("along", {name: column[:3] for name, column in COURSES.items()},
         "animal session covariate outcome", {}, "There is but one animal", "slopes"),
        ("reversal", {**PHASES, "animal": [None] + ["Moss"] * 23},
         "animal order phase outcome", {"shortest": 4}, "1 rows are left out", "animals"),
        ("reversal", {**PHASES, "outcome": [1.0] * 24}, "animal order phase outcome",
         {"shortest": 4}, "All values are the same", "animals"),
        ("reversal", PHASES, "animal order phase outcome", {"shortest": 9},
         "The sessions do not hold the phases", "animals"),
        ("measured",
         {"moment": list("aabbc"), "observer": list("xyxyx"), "outcome": [1.0, 2, 3, 4, 5]},
         "moment observer outcome", {}, "Not every observer measured", "icc"),
        ("feeding",
         {"feed": [9.0] * 5, "gain": [3.0, 4, 5, 6, -1], "unit": list("abcde"),
          "treatment": list("xxyyy")},
         "feed gain unit treatment", {}, "No feed conversion of e", "units"),
        ("condition",
         {"mass": [9.0, 9, 9, 9, 0], "length": [2.0, 2, 2, 2, 2], "unit": list("abcde"),
          "treatment": list("xxyyy")},
         "mass length unit treatment", {}, "spread is 0", "units"),
        ("warmth",
         {"lowest": [10.0, 11.0, None], "time": [dt.date(2026, 1, day) for day in (1, 4, 5)]},
         "lowest time", {}, "Days are missing: all (2)", "warmth"),
        ("rates", {**CRICKETS, "rate": [0.0, *CRICKETS["rate"][1:]]},
         "rate temperature unit family", {}, "a rate above 0", "rates"),
        ("response", {**MOTHS, "dose": [0.0, 2, 4, 8, 16, 32]}, "dose responded of unit",
         {"scale": "logarithm"}, "set apart", "doses"),
        ("one_zero",
         {"animal": ["a", None], "interval": [1, 2], "behaviour": ["swim", "swim"]},
         "animal behaviour interval", {}, "1 rows are left out", "intervals"),
    ],
)  # fmt: skip
def test_bad_input_is_a_sentence_and_the_rest_is_computed(
    tmp_path: Path,
    kind: str,
    table: dict[str, list[Any]],
    columns: str,
    options: dict[str, Any],
    said: str,
    still: str,
) -> None:
    found = asked_of(tmp_path, kind, table, columns, **options)
    told = [one.said for one in found.gaps]
    assert any(said in one for one in told), told
    assert any(one.name == still and one.rows for one in found.tables)


@pytest.mark.parametrize(
    ("kind", "table", "columns", "options", "facts", "said"),
    [
        ("bouts", WATCHED, BOUTS, {}, {"recorded": ["focal", "one_zero"]}, "frequency cannot"),
        ("bouts", WATCHED, BOUTS, {}, {"recorded": ["ad_libitum", "continuous"]},
         "frequency cannot"),
        ("bouts", WATCHED, BOUTS, {}, {"recorded": ["scan", "instantaneous"]}, "frequency cannot"),
        ("interval", WATCHED, BOUTS, {}, {"recorded": ["focal", "one_zero"]}, "cannot be computed"),
        ("sequence", WATCHED, BOUTS, {}, {"recorded": ["focal", "one_zero"]}, "cannot be computed"),
        ("one_zero", {**WATCHED, "interval": [1] * 7}, "animal behaviour interval", {}, FOCAL,
         "share of intervals cannot"),
        ("bouts", changed(begin=[NONE] * 7, end=[NONE] * 7), BOUTS, {}, FOCAL, "Nothing can be"),
        ("interval", WATCHED, BOUTS, {"target": "dance"}, FOCAL, "not in the ethogram"),
        ("along", {**COURSES, "medium": ["?"] * 6}, "animal session covariate outcome medium", {},
         {}, "need their medium"),
        ("along", COURSES, "animal session covariate", {}, {}, "held against the covariate"),
        ("reversal", {**PHASES, "phase": ["A"] * 24}, "animal order phase outcome", {}, {},
         "Phases cannot be compared"),
        ("measured", {"moment": ["a"], "observer": ["x"], "outcome": [1.0]},
         "moment observer outcome", {}, {}, "No agreement"),
        ("response", {**MOTHS, "responded": [0, 0, 0, 20, 20, 20]}, "dose responded of unit", {},
         {}, "No response curve"),
        ("rates", {**CRICKETS, "temperature": [20.0] * 31}, "rate temperature unit", {}, {},
         "Q10 cannot be fitted"),
        ("warmth", {"lowest": [NONE], "time": [dt.date(2026, 1, 1)]}, "lowest time", {}, {},
         "cannot be counted"),
        ("condition", {"mass": [0.0], "length": [1.0], "unit": ["a"], "treatment": ["x"]},
         "mass length unit treatment", {}, {}, "Nothing can be compared"),
    ],
)  # fmt: skip
def test_what_leaves_nothing_is_refused_with_its_reason(
    tmp_path: Path,
    kind: str,
    table: dict[str, list[Any]],
    columns: str,
    options: dict[str, Any],
    facts: dict[str, Any],
    said: str,
) -> None:
    with pytest.raises(Unsound) as refused:
        asked_of(tmp_path, kind, table, columns, facts, **options)
    assert said in refused.value.what
    assert refused.value.why
    assert refused.value.next


def test_animals_that_were_never_visible_have_no_rate_and_the_page_says_so(tmp_path: Path) -> None:
    hidden = changed(
        behaviour=["oos"] * 7, begin=[0.0, 40, 60, 99, 0, 50, 99], end=[40.0, 60, 99, 100, 50, 99,
        100],
    )  # fmt: skip
    known = {"acts": [["swim", "state", "place"], ["breach", "event", ""]]}
    found = asked_of(tmp_path, "bouts", hidden, BOUTS, known)
    assert found.said == ("No behaviour was seen in visible time.",)
    assert any("never visible" in one.why for one in found.gaps)
    assert cell(found, "acts", "swim", "times an hour") is None
    assert cell(found, "each", "Moss, swim", "visible, s") == 0


def test_every_kind_stands_once_in_every_list() -> None:
    assert len(KINDS) == sum(map(len, GROUPS.values()))
    assert set(KINDS) == set(Analysis.Sort.values) == set(PARAGRAPHS)
    assert {one for each in ("instantaneous", "continuous", "one_zero")
            for one in for_plan(each, "Waiting", "crossover")} <= set(KINDS)  # fmt: skip
    schema = {"fields": [{"name": "at", "type": "date"}, {"name": "ray"}, {"name": "did"}]}
    with pytest.raises(Unsound, match="of type date"):
        checked(Request("bouts", "t", {"animal": "ray", "behaviour": "did", "begin": "at"}), schema)
