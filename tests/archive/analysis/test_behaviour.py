"""Summaries of behaviour: what they give, what they refuse, and what they say is missing."""

from dataclasses import replace

import numpy as np
import pytest

from archive.analysis import (
    Act,
    Bouts,
    Level,
    Recorded,
    Scans,
    Watched,
    acts,
    coded,
    diversity,
    electivity,
    interval_shares,
    mean_level,
    mean_of,
    space_use,
    spread,
    spread_unequal,
    time_budget,
    timed_budget,
    transitions,
    watches_of,
)
from archive.analysis.behaviour.transitions import counted
from archive.analysis.columns import Coded
from archive.analysis.gaps import few_named
from registry.design import interval_check
from registry.errors import Unsound


def scans(rows: list[tuple], **more: object) -> Scans:
    """Make scans of (animal, session, behaviour)."""
    return Scans(*(coded(column) for column in zip(*rows, strict=True)), **more)


ROWS = [
    *[("Moss", "1", "swim")] * 6,
    *[("Moss", "1", "rest")] * 2,
    *[("Moss", "1", "oos")] * 2,
    *[("Moss", "2", "swim")] * 4,
    *[("Fern", "1", "rest")] * 5,
    *[("Fern", "1", "swim")] * 5,
    *[("Fern", "2", "rest")] * 6,
    *[("Fern", "2", "oos")] * 4,
]


def said(gaps: tuple) -> str:
    return " ".join(one.said for one in gaps)


def test_a_budget_has_both_denominators_and_bounds() -> None:
    found = time_budget(scans(ROWS), these_animals=True)
    swim = found.of("swim")
    assert found.animals == ("Moss", "Fern")
    assert found.sessions == 4
    assert swim.by_animal == pytest.approx((10 / 12, 5 / 16))
    assert swim.of_visible.mean == pytest.approx((10 / 12 + 5 / 16) / 2)
    assert swim.of_all.mean == pytest.approx((10 / 14 + 5 / 20) / 2)
    assert swim.at_most.mean == pytest.approx((12 / 14 + 9 / 20) / 2)
    assert found.visible.mean == pytest.approx((12 / 14 + 16 / 20) / 2)
    assert swim.of_visible.low == 0.0  # two animals: the interval is as wide as it can be
    assert swim.these_animals is not None
    assert swim.these_animals[0] < swim.of_visible.mean < swim.these_animals[1]
    assert "covers less often" in said(found.gaps)
    with pytest.raises(Unsound, match="not in this budget"):
        found.of("oos")


def test_a_budget_is_the_same_whenever_it_is_made() -> None:
    again = [time_budget(scans(ROWS), these_animals=True, seed=7) for _ in range(2)]
    assert again[0] == again[1]


def test_sparse_and_full_tables_are_counted_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [(f"A{n % 30}", f"S{n % 77}", ["swim", "rest", None][n % 7 % 3]) for n in range(900)]
    monkeypatch.setattr("archive.analysis.behaviour.tally.AT_ONCE", 100)
    full = time_budget(scans(rows))
    monkeypatch.setattr("archive.analysis.behaviour.tally.LARGEST", 100)
    assert time_budget(scans(rows)) == full
    # Pieces, each with codes of its own, say the same as the whole.
    assert time_budget(scans(rows[at : at + 70]) for at in range(0, 900, 70)) == full
    assert full.sessions == len({(a, s) for a, s, b in rows if b})
    assert full.of("swim").of_visible.mean == pytest.approx(0.6, abs=0.05)


def test_sessions_that_were_hardly_visible_can_be_left_out() -> None:
    found = time_budget(scans(ROWS), least_visible=0.7)
    assert found.sessions == 3
    assert "1 of 4 sessions" in said(found.gaps)
    assert found.of("swim").by_animal[1] == 0.5


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([("Moss", "1", "swim"), ("Moss", "1", "rest")], "No interval over animals"),
        ([("Moss", "1", "swim"), ("Fern", "1", "oos")], "visible time of Fern"),
        ([(None, "1", "swim"), (None, "2", "rest")], "Nothing can be said of animals"),
        ([("Moss", "1", "swim"), (None, "2", "rest")], "1 rows are left out. They do not say"),
        ([("Moss", "1", "swim"), ("Moss", "1", None)], "1 rows are left out. They name no"),
        ([("Moss", "1", "swim"), ("Moss", "1", "swmi")], "The ethogram does not know swmi"),
    ],
)
def test_what_cannot_be_computed_is_said_and_the_rest_computed(rows: list, words: str) -> None:
    found = time_budget(scans(rows, known=["swim", "rest"]))
    assert words in said(found.gaps)
    assert found.of("swim").of_visible.mean > 0


def test_no_visible_time_at_all_leaves_bounds_alone() -> None:
    rows = [("Moss", "1", "oos"), ("Fern", "1", "oos")]
    found = time_budget(scans(rows, known=["swim"]), these_animals=True)
    swim = found.of("swim")
    assert np.isnan(swim.of_visible.mean)
    assert (swim.of_all.mean, swim.at_most.mean) == (0.0, 1.0)
    assert swim.these_animals is None


def test_rows_without_any_behaviour_are_refused() -> None:
    with pytest.raises(Unsound, match="No row names a known behaviour"):
        time_budget(scans([("Moss", "1", None)]))
    with pytest.raises(Unsound, match="No row names a known behaviour"):
        time_budget([])
    with pytest.raises(Unsound, match="not of one length"):
        Scans(coded(["a"]), coded(["a", "b"]), coded(["a"]))
    with pytest.raises(Unsound, match="has not"):
        Coded(np.array([2], dtype=np.int32), ("a",))


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        (Recorded("ad_libitum", "instantaneous"), "caught the eye"),
        (Recorded("focal", "one_zero"), "over-estimates"),
        (Recorded("measured", "not_behaviour"), "do not give it"),
    ],
)
def test_a_rule_of_recording_is_refused_what_it_cannot_give(rule: Recorded, why: str) -> None:
    with pytest.raises(Unsound, match=why):
        time_budget(scans(ROWS), recorded=rule)


def test_one_zero_records_give_shares_of_intervals_alone() -> None:
    rows = [
        ("Moss", "1", "swim"),
        ("Moss", "1", "swim"),  # twice in one interval counts once
        ("Moss", "1", "rest"),
        ("Moss", "1", "rest"),
        ("Moss", "1", "oos"),
        ("Moss", "1", "swim"),
        (None, "1", "swim"),
    ]
    found = interval_shares(scans(rows), coded([1, 1, 1, 2, 3, None, 1]))
    assert found.of("swim").of_visible.mean == 0.5
    assert found.of("rest").of_visible.mean == 1.0
    assert found.of("swim").at_most.mean == pytest.approx(2 / 3)
    assert found.visible.mean == pytest.approx(2 / 3)
    assert "which interval it was" in said(found.gaps)
    # Without a word for being out of sight every interval is visible.
    plain = interval_shares(scans(rows, out_of_sight=()), coded([1, 1, 1, 2, 3, None, 1]))
    assert plain.visible.mean == 1.0
    with pytest.raises(Unsound, match="share of intervals cannot"):
        interval_shares(scans(rows), coded(range(7)), recorded=Recorded("scan", "instantaneous"))


ETHOGRAM = [Act("swim"), Act("rest"), Act("breach", is_state=False), Act("near", exclusive="")]
WATCHES = [("Moss", "1", 100.0), ("Moss", "2", 200.0), ("Fern", "1", 100.0)]
DONE = [
    ("Moss", "1", "swim", 0, 40),
    ("Moss", "1", "oos", 40, 60),
    ("Moss", "1", "swim", 60, 70),
    ("Moss", "1", "rest", 70, 100),
    ("Moss", "1", "breach", 65, None),
    ("Moss", "1", "near", 10, 40),
    ("Moss", "2", "rest", 0, 200),
    ("Fern", "1", "rest", 0, 50),
    ("Fern", "1", "swim", 50, 100),
    ("Fern", "1", "breach", 20, None),
    ("Fern", "1", "breach", 30, None),
]


def bouts(rows: list[tuple]) -> Bouts:
    """Make bouts of (animal, session, behaviour, begin, end)."""
    animal, session, behaviour, begin, end = zip(*rows, strict=True)
    a, s, length = zip(*WATCHES, strict=True)
    return Bouts(
        Watched(coded(a), coded(s), np.array(length)),
        coded(animal),
        coded(session),
        coded(behaviour),
        np.array(begin, dtype=float),
        np.array([np.nan if one is None else one for one in end], dtype=float),
        ETHOGRAM,
    )


def test_continuous_records_give_shares_of_time() -> None:
    found = timed_budget(bouts(DONE))
    assert found.of("swim").by_animal == pytest.approx((50 / 280, 0.5))
    assert found.of("near").by_animal == pytest.approx((30 / 280, 0.0))
    assert found.of("rest").at_most.mean == pytest.approx((250 / 300 + 0.5) / 2)
    assert not [one for one in found.gaps if "add up" in one.said]
    assert "breach" not in [one.behaviour for one in found.shares]


def test_continuous_records_give_rates_lengths_and_latencies() -> None:
    found = {one.behaviour: one for one in acts(bouts(DONE))[0]}
    breach, swim = found["breach"], found["swim"]
    # Moss: one in 280 s that it was visible; Fern: two in 100 s.
    assert breach.rate_per_h.mean == pytest.approx((3600 / 280 + 72) / 2)
    assert (breach.count, breach.bout_s) == (3, None)
    assert breach.latency_s is not None
    assert breach.latency_s.mean == pytest.approx((65 + 20) / 2)
    assert breach.never == 1
    assert swim.bout_s is not None
    assert swim.bout_s.mean == pytest.approx((25 + 50) / 2)
    assert swim.cut_short == 2  # once by going out of sight, once by the end
    assert "“breach” is too short" in said(acts(bouts(DONE))[1])


def test_all_occurrences_give_rates_and_nothing_of_time() -> None:
    rule = Recorded("behaviour", "continuous")
    found, _ = acts(bouts(DONE), recorded=rule)
    assert {one.bout_s for one in found} == {None}
    assert {one.latency_s for one in found} == {None}
    with pytest.raises(Unsound, match="share of time cannot"):
        timed_budget(bouts(DONE), recorded=rule)
    with pytest.raises(Unsound, match="frequency cannot"):
        acts(bouts(DONE), recorded=Recorded("scan", "instantaneous"))


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (("Fern", "1", "swim", 20, 60), "Bouts in each overlap"),
        (("Fern", "1", "oos", 20, 30), "Bouts in each overlap"),
        (("Fern", "1", "breach", 101, None), "outside the session"),
        (("Fern", "1", "near", 90, 120), "outside the session"),
        (("Fern", "1", "near", 9, 9), "does not end after"),
        (("Fern", "1", "near", 9, None), "lacks a beginning or an end"),
        (("Fern", "9", "near", 1, 2), "no session of their animal"),
        (("Fern", "1", "nap", 1, 2), "does not know nap"),
        (("Fern", "1", None, 1, 2), "name no behaviour"),
    ],
)
def test_what_does_not_hold_together_is_left_out_and_said(row: tuple, words: str) -> None:
    found = timed_budget(bouts([*DONE, row]))
    assert words in said(found.gaps)
    assert found.of("swim").by_animal[0] == pytest.approx(50 / 280)


def test_time_without_a_state_is_said() -> None:
    found = timed_budget(bouts([one for one in DONE if one[3:] != (60, 70)]))
    assert "do not add up to 1. In 2.6 per cent" in said(found.gaps)


def test_sessions_of_no_animal_are_left_out_and_said() -> None:
    found = bouts(DONE)
    nameless = replace(found, watched=replace(found.watched, animal=coded(["Moss", "Moss", None])))
    assert "do not say which animal" in said(timed_budget(nameless).gaps)
    assert timed_budget(nameless).animals == ("Moss",)
    assert "do not say which animal" in said(acts(nameless)[1])


def test_watches_are_named_once_and_have_a_length() -> None:
    one = coded(["Moss", "Moss"])
    with pytest.raises(Unsound, match="given twice"):
        Watched(one, coded(["1", "1"]), np.array([1.0, 2.0]))
    with pytest.raises(Unsound, match="length above 0"):
        Watched(one, coded(["1", "2"]), np.array([1.0, 0.0]))


def test_continuous_records_say_which_interval_of_scans_would_do() -> None:
    found = interval_check(watches_of(bouts(DONE), "swim"), [1.0, 50.0])
    assert found[0].share == pytest.approx((np.mean([0.5, 0]) + 0.5) / 2)
    assert found[0].rmse < found[1].rmse
    with pytest.raises(Unsound, match="not in the ethogram"):
        watches_of(bouts(DONE), "nap")


def test_transitions_break_at_what_was_not_seen() -> None:
    table = counted([["a", "a", "b", "oos", "a"], ["b", "a"]], ["a", "b"], repeats=True)
    assert table.tolist() == [[1, 1], [1, 0]]


@pytest.mark.parametrize(
    ("table", "repeats", "why"),
    [
        ([[0, 0], [0, 0]], True, "holds no counts"),
        ([[1, -1], [0, 1]], True, "holds no counts"),
        ([[1, 2], [3, 0]], False, "follows itself"),
    ],
)
def test_tables_that_hold_no_transitions_are_refused(table: list, repeats: bool, why: str) -> None:
    with pytest.raises(Unsound, match=why):
        transitions(table, ["a", "b"], repeats=repeats)


def test_a_table_too_small_to_judge_says_so() -> None:
    found = transitions([[0, 3], [2, 0]], ["a", "b"], repeats=False)
    assert "no degree of freedom" in said(found.gaps)
    assert np.isnan(found.p)
    assert "below 5" in said(transitions([[1, 2], [2, 1]], ["a", "b"]).gaps)


def test_the_use_of_space_is_told_by_animal() -> None:
    rows = [("Moss", "cave")] * 6 + [("Moss", "open")] * 2 + [("Fern", "open")] * 8
    rows += [("Fern", "loft"), (None, "open")]
    animal, zone = (coded(column) for column in zip(*rows, strict=True))
    found = space_use(animal, zone, {"cave": 1.0, "open": 3.0})
    assert dict(found.by_animal) == pytest.approx({"Moss": 8 / 12, "Fern": 4 / 12})
    assert found.zones[0].seen == 6
    assert found.zones[0].elected.mean == pytest.approx(((0.9 - 0.5) / 1.4 - 1) / 2)
    assert "The plan has no zone loft" in said(found.gaps)
    assert "name no animal" in said(found.gaps)
    with pytest.raises(Unsound, match="No row has an animal and a zone"):
        space_use(animal, coded(["loft"] * len(rows)), {"cave": 1.0, "open": 3.0})


def test_nonsense_is_refused() -> None:
    with pytest.raises(Unsound, match="two zones"):
        spread([5])
    with pytest.raises(Unsound, match="size above 0"):
        spread_unequal([1, 2], [1, 0])
    with pytest.raises(Unsound, match="Nothing was seen"):
        diversity([0, 0])
    with pytest.raises(Unsound, match="below 0"):
        diversity([1, -1])
    with pytest.raises(Unsound, match="size above 0"):
        electivity([1, 2], [1])


def test_air_and_water_are_never_averaged_together() -> None:
    with pytest.raises(Unsound, match="re 1 µPa"):
        mean_level([Level(60, "air"), Level(120, "water")])
    with pytest.raises(Unsound, match="None was given"):
        mean_level([])
    with pytest.raises(Unsound, match="needs its medium"):
        mean_level([Level(60, "")])
    with pytest.raises(Unsound, match="not of one kind"):
        mean_level([Level(60, "air", weighting="A"), Level(60, "air")])
    assert mean_level([Level(60, "air", 3), Level(90, "air", 1e-9)]) == pytest.approx(60, abs=0.01)


def test_one_value_has_a_mean_and_no_interval() -> None:
    assert mean_of([0.5, np.nan]).low is None
    assert np.isnan(mean_of([]).mean)
    assert few_named(["a", "b", "c"]) == "a, b and c"
