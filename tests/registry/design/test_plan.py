"""The plan's essential items, and planned against achieved."""

from datetime import date, time

from registry.design import (
    Outline,
    Slot,
    Stream,
    TankMeans,
    came_of_it,
    complete,
    essential_items,
    schedule,
    solve,
)
from registry.design.plan import ESSENTIAL

FULL = Outline(
    question="Does aeration change hatching?",
    unit="tank",
    arms={"still": 4, "brisk": 4},
    outcome="share hatched",
    outcome_unit="1",
    ethogram="egg dictionary, version 2",
    exclusions="Eggs that were dead at the start",
    replication=solve(TankMeans(sd=1, icc=0.2, per_unit=10), n=4, effect=1),
    replication_source="ark:99999/s1abc.v2",
    allocation=complete([f"T{n}" for n in range(8)], ["still", "brisk"], Stream(bytes(32))),
    schedule=schedule(["T1"], [date(2026, 5, 4)], [Slot(time(10))], Stream(bytes(32))),
    blinding="The student who counts does not know the arm.",
    analysis="t test of tank shares",
    stopping="Stop when oxygen falls below 80 per cent.",
    animals="Common cuttlefish, egg strings laid here",
    procedures="Eggs are counted each morning",
)


def test_the_ten_items_have_the_published_titles_in_order() -> None:
    # Percie du Sert et al. (2020), PLoS Biology 18, e3000410: ten essential items.
    assert len(ESSENTIAL) == 10
    assert ESSENTIAL[:4] == (
        "Study design",
        "Sample size",
        "Inclusion and exclusion criteria",
        "Randomisation",
    )
    assert [one.number for one in essential_items(FULL)] == list(range(1, 11))


def test_a_full_plan_misses_nothing() -> None:
    items = {one.title: one for one in essential_items(FULL)}
    assert [one.title for one in items.values() if one.missing] == []
    assert "power" in items["Sample size"].text or "100 such studies" in items["Sample size"].text
    assert "ark:99999/s1abc.v2" in items["Sample size"].text
    assert FULL.allocation.commitment in items["Randomisation"].text
    assert "1 session was" in items["Randomisation"].text
    assert "Stopping rules" in items["Experimental procedures"].text
    assert all(one.text.endswith(".") for one in items.values())


def test_what_is_not_said_is_missing_and_not_made_up() -> None:
    items = essential_items(Outline())
    assert [one.text for one in items[:9]] == [""] * 9
    assert all(one.missing for one in items[:9])
    assert items[9].text == "To be written when the data are in."


def test_planned_against_achieved_is_told() -> None:
    said = came_of_it(
        {"still": 4, "brisk": 4},
        {"still": 4, "brisk": 2, "off": 1},
        sessions_planned=20,
        sessions_held=17,
        deviations=["12 May: a pump failed."],
    )
    assert "brisk: 2 of 4 planned." in said
    assert "off: 1 of 0 planned." in said
    assert any("3 are missing" in one for one in said)
    assert said[-1] == "12 May: a pump failed."
    assert any("less even" in one for one in came_of_it({"x": 4, "y": 4}, {"x": 4, "y": 1}))
    assert came_of_it({"x": 4, "y": 4}, {"x": 4, "y": 4})[:2] == (
        "x: 4, as planned.",
        "y: 4, as planned.",
    )
