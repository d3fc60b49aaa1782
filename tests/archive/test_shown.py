"""Columns at a glance, as pages show them."""

from typing import Any

import pytest

from archive.shown import tables

FILLED = {"filled": 1.0, "is_capped": False, "least": "", "greatest": "", "bins": [], "values": []}


def shown(field: dict[str, Any], column: dict[str, Any], entries: list[Any] = []) -> Any:  # noqa: B006  # why: only read
    name = field["name"]
    read = {"name": name, "type": field["type"], "role": "", "unit": "", "distinct": 0}
    table = {"name": "checks", "rows": 18, "bytes": 1, "columns": [FILLED | read | column]}
    descriptor = {"resources": [{"name": "checks", "type": "table", "schema": {"fields": [field]}}]}
    (one,) = tables(descriptor, {"tables": [table], "entries": entries})
    return one.fields[0]


def test_days_stand_in_their_order_and_codes_by_how_many() -> None:
    days = [["2026-05-03", 4], ["2026-05-01", 2]]
    column = {"distinct": 2, "values": days, "least": "2026-05-01", "greatest": "2026-05-03"}
    assert shown({"name": "on", "type": "date"}, column).steps == (
        ("2026-05-01", 2),
        ("2026-05-03", 4),
    )
    codes = {"distinct": 2, "values": [["swim", 4], ["rest", 2]]}
    assert shown({"name": "posture", "type": "string"}, codes).spread == "swim, rest"


@pytest.mark.parametrize(
    ("kind", "least", "greatest", "said"),
    [
        (
            "date",
            "2026-03-01",
            "2026-05-09",
            ["2026-03-01 to 2026-03-04", "2026-05-06 to 2026-05-09"],
        ),
        (
            "datetime",
            "2026-03-01T08:00:00+01:00",
            "2026-03-03T00:00:00+01:00",
            ["2026-03-01 08:00 to 2026-03-01 10:00", "2026-03-02 22:00 to 2026-03-03 00:00"],
        ),
        ("time", "08:00:00", "18:00:00", ["08:00 to 08:30", "17:30 to 18:00"]),
        ("number", "0", "10", ["0 to 0.5", "9.5 to 10"]),
    ],
)
def test_of_many_days_and_times_each_step_says_from_when_to_when(
    kind: str, least: str, greatest: str, said: list[str]
) -> None:
    bins = [3, *[0] * 18, 4]
    column = {"distinct": 70, "least": least, "greatest": greatest, "bins": bins}
    field = shown({"name": "on", "type": kind}, column)
    assert field.spread == f"{least} to {greatest}"
    assert field.steps == ((said[0], 3), (said[1], 4))
    entry = {"table": "checks", "field": "on", "code": "unlikely-value", "count": 1}
    told = {**entry, "examples": [{"field": "on", "value": greatest, "row": 3}]}
    assert shown({"name": "on", "type": kind}, column, [told]).spark.count('class="p5"') == 1


def test_true_and_false_are_written_as_the_standard_writes_them() -> None:
    column = {"distinct": 2, "values": [["True", 4], ["False", 2]]}
    assert shown({"name": "turned", "type": "boolean"}, column).spread == "true, false"


@pytest.mark.parametrize(("value", "full"), [("dance", 1), ("rest", 1), ("fly", 0)])
def test_the_bar_of_a_value_that_was_told_is_full(value: str, full: int) -> None:
    column = {"distinct": 2, "values": [["rest", 4], ["dance", 2]]}
    example = {"field": "posture", "value": value, "row": 3}
    entry = {"table": "checks", "field": "posture", "code": "category-error", "count": 1}
    field = shown({"name": "posture", "type": "string"}, column, [{**entry, "examples": [example]}])
    assert field.spark.count('class="p5"') == full
    assert field.found == ("A code that is not on the list: 1",)


def test_a_fault_of_the_heading_is_told_at_each_column_that_it_is_about() -> None:
    examples = [{"field": name, "value": "x", "row": 1} for name in ("posture", "depth")]
    entry = {"table": "checks", "field": "", "code": "incorrect-label", "count": 2}
    field = shown({"name": "posture", "type": "string"}, {}, [{**entry, "examples": examples}])
    assert len(field.found) == 1


def test_a_column_of_which_nothing_could_be_read_says_so() -> None:
    assert shown({"name": "depth", "type": "number"}, {}).spread == "nothing that could be read"
