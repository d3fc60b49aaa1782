"""The blank sheet: what is known is written in, and nothing that the check would refuse."""

import csv
import io
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from archive.engine.descriptor import Descriptor
from archive.sheets import MOST_ROWS, Stretch, Watched, blank_sheet, every_said, moments
from registry.errors import Unsound

SITE = ZoneInfo("Europe/London")


def stretch(**more: Any) -> Stretch:
    given: dict[str, Any] = {
        "session": "S1",
        "place": "P1",
        "start": datetime(2026, 11, 24, 13, 0, tzinfo=SITE),
        "end": datetime(2026, 11, 24, 13, 40, tzinfo=SITE),
        "observer": "MO",
        "watched": (Watched("R-01"), Watched("R-02", "tank 5")),
        **more,
    }
    return Stretch(**given)


def field(name: str, role: str = "", kind: str = "string", **more: Any) -> Descriptor:
    return {"name": name, "type": kind, **({"x:role": role} if role else {}), **more}


def table(*fields: Descriptor) -> Descriptor:
    return {"name": "scans", "title": "Scans", "schema": {"fields": list(fields)}}


SCANS = table(
    field("session", "session"),
    field("ray", "animal"),
    field("where", "place"),
    field("seen_at", "time", "datetime"),
    field("on", "time", "date"),
    field("by", "observer"),
    field("tank", "unit"),
    field("posture", "behaviour"),
)


def test_a_scan_sheet_has_a_row_for_each_animal_at_each_scan_before_the_end() -> None:
    sheet = blank_sheet(SCANS, stretch(every_s=600))
    assert len(sheet.rows) == 4 * 2
    assert sheet.rows[0] == (
        "S1", "R-01", "P1", "2026-11-24T13:00:00+00:00", "2026-11-24", "MO", "", "",
    )  # fmt: skip
    assert sheet.rows[-1][1:7] == (
        "R-02", "P1", "2026-11-24T13:30:00+00:00", "2026-11-24", "MO", "tank 5",
    )  # fmt: skip
    written = list(csv.reader(io.StringIO(sheet.as_csv)))
    assert written[0] == [one["name"] for one in SCANS["schema"]["fields"]]
    assert [tuple(row) for row in written[1:]] == list(sheet.rows)


def test_an_animal_that_lives_elsewhere_stands_with_its_own_place() -> None:
    where = table(field("ray", "animal"), field("where", "place"))
    watched = (Watched("R-01"), Watched("R-02", place="P2"))
    assert blank_sheet(where, stretch(watched=watched)).rows == (("R-01", "P1"), ("R-02", "P2"))


def test_a_moment_that_no_plan_fixes_is_left_to_be_seen() -> None:
    sheet = blank_sheet(SCANS, stretch())
    assert [row[1] for row in sheet.rows] == ["R-01", "R-02"]
    assert {row[3] for row in sheet.rows} == {""}
    assert {row[4] for row in sheet.rows} == {"2026-11-24"}


def test_a_day_alone_cannot_tell_scans_apart_so_there_is_one_row_for_each_animal() -> None:
    sheet = blank_sheet(table(field("ray", "animal"), field("on", "time", "date")), stretch())
    again = blank_sheet(
        table(field("ray", "animal"), field("on", "time", "date")), stretch(every_s=60)
    )
    assert sheet.rows == again.rows == (("R-01", "2026-11-24"), ("R-02", "2026-11-24"))


def test_groups_animals_units_and_sessions_each_make_their_own_rows() -> None:
    watched = (Watched("SHOAL", "5", is_group=True), Watched("R-01"))
    both = table(field("ray", "animal"), field("shoal", "group"))
    assert blank_sheet(both, stretch(watched=watched)).rows == (("", "SHOAL"), ("R-01", ""))
    shoals = table(field("shoal", "group"))
    assert blank_sheet(shoals, stretch(watched=watched)).rows == (("SHOAL",),)
    tanks = table(field("tank", "unit"), field("flow", "outcome", "number"))
    assert blank_sheet(tanks, stretch(watched=watched)).rows == (("5", ""),)
    water = table(field("session", "session"), field("warmth", "covariate", "number"))
    assert blank_sheet(water, stretch()).rows == (("S1", ""),)
    assert blank_sheet(table(field("colour")), stretch()).rows == ()


@pytest.mark.parametrize(
    "more",
    [
        {"constraints": {"enum": ["X", "Y"]}},
        {"categories": ["X"]},
        {"constraints": {"pattern": "[0-9]+"}},
        {"constraints": {"pattern": "(("}},
        {"constraints": {"maxLength": 2}},
        {"type": "integer"},
        {"type": "boolean"},
    ],
)
def test_what_the_fields_own_constraints_would_refuse_is_not_written_in(more: Any) -> None:
    assert blank_sheet(table(field("ray", "animal")), stretch()).rows[0] == ("R-01",)
    assert blank_sheet(table(field("ray", "animal") | more), stretch()).rows[0] == ("",)


def test_a_code_that_a_spreadsheet_would_run_is_not_written_in() -> None:
    sheet = blank_sheet(table(field("ray", "animal")), stretch(watched=(Watched("=1+1"),)))
    assert sheet.rows == (("",),)


def test_a_sheet_that_nobody_could_fill_in_is_refused_in_words() -> None:
    with pytest.raises(Unsound, match=f"{MOST_ROWS} are the most"):
        blank_sheet(SCANS, stretch(every_s=1))
    with pytest.raises(Unsound, match="longer time between scans"):
        blank_sheet(SCANS, stretch(every_s=6))
    assert len(moments(stretch(every_s=60))) == 40
    assert len(moments(stretch(every_s=61))) == 40


def test_the_legend_says_unit_bounds_and_what_each_code_means() -> None:
    ethogram = [{"code": "REST", "name": "resting"}, {"code": "SWIM", "name": "swimming"}]
    sheet = blank_sheet(
        table(
            field("posture", **{"x:ethogram": ethogram}, title="Posture"),
            field("n", kind="integer", constraints={"minimum": 0}, **{"x:unit": "{animals}"}),
            field("rests", kind="boolean", constraints={"required": True}),
            field("half", categories=[{"value": "l", "label": "left"}]),
        ),
        stretch(),
    )
    posture, number, rests, half = sheet.columns
    assert (posture.title, posture.codes) == (
        "Posture",
        (("REST", "resting"), ("SWIM", "swimming")),
    )
    assert (number.unit, number.bounds) == ("animals", "0 or more")
    assert (rests.codes, rests.is_required) == ((("true", ""), ("false", "")), True)
    assert half.codes == (("l", "left"),)


@pytest.mark.parametrize(
    ("schedule", "seconds"),
    [
        ("One session of 40 minutes a day, scans every 5 minutes.", 300),
        ("Every 30 seconds", 30),
        ("A scan every minute", 60),
        ("Netted every second week for 26 weeks.", 0),
        ("Each string twice a week", 0),
        ("", 0),
    ],
)
def test_the_time_between_scans_is_read_from_the_plans_words(schedule: str, seconds: int) -> None:
    assert every_said(schedule) == seconds
