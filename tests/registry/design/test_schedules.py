"""Schedules: balanced as they say, drawn again the same, and clear of what else is on."""

from collections import Counter
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import numpy as np
import pytest

from registry.design import (
    Busy,
    Slot,
    Stream,
    Watch,
    calendar,
    clashes,
    cross_table,
    focal_sheet,
    interval_check,
    judged,
    one_zero_share,
    printed_schedule,
    scan_sheet,
    scan_times,
    scan_variance,
    schedule,
)
from registry.errors import Unsound

SEED = bytes(range(32))
MONDAY = date(2026, 5, 4)
SLOTS = [Slot(time(10), "quiet"), Slot(time(12), "busy"), Slot(time(15), "busy")]
PENGUINS = ["Moss", "Fern", "Reed", "Sedge"]
HALF = timedelta(minutes=30)


def at(hour: int, minute: int = 0) -> datetime:
    return datetime.combine(MONDAY, time(hour, minute))


def days(count: int) -> list[date]:
    return [MONDAY + timedelta(days=n) for n in range(count)]


def made(count=28, animals=PENGUINS, **asked):
    return schedule(animals, days(count), SLOTS, Stream(SEED), **asked)


def test_a_schedule_drawn_again_is_the_same() -> None:
    assert made() == made()
    assert made().sessions != schedule(PENGUINS, days(28), SLOTS, Stream(bytes(32))).sessions


@pytest.mark.parametrize("count", [4, 14, 28, 33])
@pytest.mark.parametrize("per_day", [1, 2, 3])
def test_positions_are_even_in_every_slot(count: int, per_day: int) -> None:
    found = made(count, per_day=per_day)
    rows = {one.margin: one for one in judged(found)}
    assert len(found.sessions) == count * per_day
    assert rows["animal × position"].is_even
    assert rows["animal × position × slot"].is_even
    assert rows["animal × slot"].least == rows["animal × slot"].most
    slots = Counter(one.slot for one in found.sessions)
    assert max(slots.values()) - min(slots.values()) <= 1
    for weekday in range(7):
        on = Counter(one.slot for one in found.sessions if one.day.weekday() == weekday)
        on.update(dict.fromkeys(SLOTS, 0))
        assert max(on.values()) - min(on.values()) <= 2


def test_weekdays_become_as_even_as_they_can() -> None:
    found = {one.margin: one for one in judged(made(28))}
    # 12 sessions on each weekday and four positions: three each is possible, and near is enough.
    assert found["animal × position × weekday"].least >= 2
    assert found["animal × position × weekday"].most <= 4


def test_fewer_may_be_watched_than_there_are() -> None:
    found = made(28, animals=[*PENGUINS, "Rush", "Burr"], watched=3)
    assert {len(one.order) for one in found.sessions} == {3}
    counts = Counter(animal for one in found.sessions for animal in one.order)
    assert max(counts.values()) - min(counts.values()) <= 3


def test_one_animal_is_scheduled_too() -> None:
    found = made(14, animals=["octopus"])
    assert all(one.order == ("octopus",) for one in found.sessions)


def test_the_cross_table_counts_every_watch() -> None:
    found = made(14)
    table = cross_table(found)
    assert sum(table.values()) == len(found.sessions) * 4
    assert {key[3] for key in table} >= {"Monday", "Sunday"}
    assert {key[4] for key in table} == {"quiet", "busy"}


def test_what_cannot_be_balanced_is_said() -> None:
    found = made(2)
    page = printed_schedule(found, "Pebbles")
    assert any(not one.is_even for one in judged(found)) or "as even as can be" in page
    assert "animal × position × weekday" in page
    assert found.commitment in page


def test_no_session_is_held_while_something_else_is_on() -> None:
    feeding = [
        Busy(datetime.combine(day, time(12, 10)), datetime.combine(day, time(12, 40)), "feeding")
        for day in days(7)
    ]
    found = made(14, busy=feeding, per_day=2)
    assert len(found.left_out) == 7
    assert not clashes(found.sessions, feeding, HALF)
    assert not [one for one in found.sessions if one.day < days(8)[7] and one.slot == SLOTS[1]]
    assert "feeding from 12:10 to 12:40" in printed_schedule(found, "Pebbles")
    # A session that ends when something begins meets nothing.
    early = [Busy(datetime.combine(MONDAY, time(10, 30)), at(11), "talk")]
    assert not clashes(made(1).sessions, early, HALF)


def test_what_concerns_other_animals_bars_nothing() -> None:
    held = Busy(at(9), at(17), "quarantine", frozenset({"Moss"}))
    found = made(1, animals=["Moss", "Fern"])
    assert len(clashes(found.sessions, [held], HALF)) == 3
    assert not clashes(made(1, animals=["Fern", "Reed"]).sessions, [held], HALF)
    assert "(Moss)" in clashes(found.sessions, [held], HALF)[0].said


def test_sheets_carry_session_animal_and_time() -> None:
    found = made(2)
    scans = scan_sheet(found, HALF)
    assert len(scans) == 6 * 6 * 4
    assert scans[0].at == at(10)
    assert [one.animal for one in scans[:4]] == list(found.sessions[0].order)
    watches = focal_sheet(found, timedelta(minutes=5))
    assert watches[3].at == at(10, 15)
    assert len(scan_times(at(10), HALF, timedelta(minutes=10))) == 3


def test_the_calendar_is_read_by_another_program() -> None:
    found = made(2)
    written = calendar(
        found.sessions,
        HALF,
        title="Pebbles",
        place="Penguin beach",
        zone=ZoneInfo("Europe/London"),
        made=datetime(2026, 5, 1, tzinfo=UTC),
    )
    events = icalendar.Calendar.from_ical(written).walk("VEVENT")
    assert len(events) == 6
    assert events[0]["DTSTART"].dt.astimezone(UTC) == datetime(2026, 5, 4, 9, tzinfo=UTC)
    assert len({str(one["UID"]) for one in events}) == 6


def bouts(draws, on: float, off: float, length: float):
    found, at = [], draws.exponential(off)
    while at < length:
        end = min(at + draws.exponential(on), length)
        found.append((at, end))
        at = end + draws.exponential(off)
    return found


def test_a_fine_interval_shows_what_a_coarse_one_misses() -> None:
    draws = np.random.default_rng(1)
    watches = [
        Watch(f"p{n}", 3600, bouts(draws, 40, 40 * (2 + n), 3600)) for n in range(5) for _ in "ab"
    ]
    fine, coarse = interval_check(watches, [10, 300])
    assert abs(fine.bias) < 0.005
    assert abs(coarse.bias) < 0.02
    assert fine.rmse < coarse.rmse / 4
    assert fine.missed < 0.2 < coarse.missed
    assert fine.is_fine_enough
    assert "of 100 bouts missed" in coarse.said
    alone = interval_check(watches[:1], [10])[0]
    assert alone.half_width is None
    assert "One animal" in alone.said


def test_the_variance_of_scans_is_what_a_simulation_has() -> None:
    # Independent of the formula: bouts and gaps of exponential length, begun in their steady state.
    draws = np.random.default_rng(2)
    shares = []
    for _ in range(1500):
        watch = bouts(draws, 60, 180, 3600 + 2000)
        edges = np.array([edge for one in watch for edge in one])
        times = 2000 + np.arange(60) * 60 + 30
        shares.append(np.mean(np.searchsorted(edges, times, side="right") % 2))
    assert np.mean(shares) == pytest.approx(0.25, abs=0.01)
    assert np.var(shares) == pytest.approx(scan_variance(0.25, 60, 60, 60, 180), rel=0.12)


def test_one_zero_recording_says_more_than_there_is() -> None:
    draws = np.random.default_rng(3)
    seen = []
    for _ in range(800):
        watch = bouts(draws, 60, 180, 6000)
        edges = np.array([edge for one in watch for edge in one])
        starts = 2000 + np.arange(20) * 180
        inside = np.searchsorted(edges, starts, side="right") % 2 == 1
        begun = np.searchsorted(edges, starts, side="right") != np.searchsorted(
            edges, starts + 180, side="right"
        )
        seen.append(np.mean(inside | begun))
    assert np.mean(seen) == pytest.approx(one_zero_share(0.25, 180, 180), abs=0.01)


@pytest.mark.parametrize(
    ("asked", "field", "said"),
    [
        (lambda: made(0), "days", "one at least"),
        (lambda: schedule(PENGUINS, [MONDAY, MONDAY], SLOTS, Stream(SEED)), "days", "once"),
        (lambda: schedule(PENGUINS, [MONDAY], [], Stream(SEED)), "slots", "one at least"),
        (lambda: made(animals=[]), "animals", "At least 1"),
        (lambda: made(animals=["a", "a"]), "animals", "stands twice"),
        (lambda: made(per_day=4), "per_day", "from 1 to 3"),
        (lambda: made(watched=5), "watched", "from 1 to 4"),
        (
            lambda: made(1, busy=[Busy(at(0), at(23, 59), "moving day")]),
            "busy",
            "No time is left",
        ),
        (lambda: clashes([], [], timedelta(0)), "length", "takes time"),
        (lambda: scan_times(at(0), HALF, timedelta(hours=1)), "every", "No scan"),
        (lambda: scan_times(at(0), timedelta(0)), "length", "must pass"),
        (lambda: focal_sheet(made(1), timedelta(0)), "each", "takes time"),
        (lambda: Watch("a", 0, []), "length_s", "above 0"),
        (lambda: Watch("a", 60, [(10, 30), (20, 40)]), "bouts", "do not follow"),
        (lambda: interval_check([], [10]), "watches", "at least 1"),
        (lambda: interval_check([Watch("a", 60, [])], [0]), "intervals_s", "above 0"),
        (lambda: interval_check([Watch("a", 60, [])], [90]), "intervals_s", "from 0 to 60"),
        (lambda: scan_variance(1.2, 5, 1, 1, 1), "share", "from 0 to 1"),
    ],
)
def test_what_cannot_be_scheduled_is_refused_in_sentences(asked, field: str, said: str) -> None:
    with pytest.raises(Unsound) as refused:
        asked()
    assert field in refused.value.fields
    assert said in str(refused.value)
