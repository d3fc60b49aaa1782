"""What the kernel proves good is good for frictionless too, and has the same typed value."""

import random
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from frictionless import Schema

from archive.engine.fast.keys import digest_of, padded
from archive.engine.fast.plan import Column, kernel_columns
from archive.engine.fast.prove import (
    DATE,
    DATETIME,
    INTEGER,
    NUMBER,
    TEXT,
    TIME,
    digest_of_proved,
    prove,
)
from tests.worlds.random_tables import TEXTS, a_field

SEED = np.uint64(7)


def column(shape: dict[str, Any]) -> tuple[Any, Any]:
    """Give the kernel's columns and frictionless' reader of one field."""
    schema = Schema.from_descriptor(
        {"$schema": "https://datapackage.org/profiles/2.0/tableschema.json", "fields": [shape]}
    )
    (field,) = schema.fields
    reader = field.create_cell_reader()
    columns = kernel_columns(
        [Column(field.name, 1, field.type, reader)],
        [field],
        slots={},
        numbers={},
        days={},
        judged=frozenset(),
    )
    return columns, reader


def proof(columns: Any, text: str) -> tuple[bool, int, int, int]:
    data, length = padded(text)
    return prove(
        columns.kind[0],
        columns.sign[0],
        columns.zone[0],
        columns.low,
        columns.high,
        0,
        data,
        0,
        length,
    )


def spelt(draw: random.Random, kind: str) -> str:
    """Draw a text that is nearly canonical."""
    text = draw.choice([one for one in TEXTS[kind] if one])
    digits = "".join(draw.choices("0123456789", k=draw.randint(1, 20)))
    near = {
        "integer": [digits, f"-{digits}", f"{digits}."],
        "number": [
            digits,
            f"-{digits[:9]}.{digits[9:]}",
            f"{digits[:4]},{digits[4:9]}",
            f".{digits}",
        ],
        "date": [
            f"{draw.randint(0, 9999):04d}-{draw.randint(0, 13):02d}-{draw.randint(0, 32):02d}"
        ],
        "time": [f"{draw.randint(0, 24):02d}:{draw.randint(0, 60):02d}:{draw.randint(0, 61):02d}"],
    }.get(kind, [])
    if kind == "datetime":
        day = f"{draw.randint(1999, 2025)}-{draw.randint(1, 12):02d}-{draw.randint(1, 31):02d}"
        clock = f"{draw.randint(0, 24):02d}:{draw.randint(0, 59):02d}:{draw.randint(0, 60):02d}"
        zone = draw.choice(["", "Z", "+01:00", "-12:30", "+24:00", "+0100", " "])
        near = [f"{day}{draw.choice('TT ')}{clock}{zone}"]
    return draw.choice([text, *near, *near])


@pytest.mark.parametrize("kind", ["integer", "number", "string", "any", "date", "datetime", "time"])
def test_a_proof_holds_for_frictionless_and_its_digest_is_that_of_the_typed_value(kind):
    draw = random.Random(f"20260301 {kind}")
    proved = 0
    for _ in range(400):
        shape = a_field(draw, "a", is_v2=True)
        if shape["type"] != kind or shape.get("missingValues"):
            shape = {"name": "a", "type": kind}
        columns, reader = column(shape)
        for _ in range(12):
            text = spelt(draw, kind)
            ok, value, scale, local = proof(columns, text)
            if not columns.kind[0] or not ok:
                continue
            typed, notes = reader(text)
            assert typed is not None, (shape, text)
            assert notes is None, (shape, text)
            data, length = padded(text)
            told = digest_of_proved(columns.kind[0], data, 0, length, value, scale, SEED)
            assert told == digest_of(typed, SEED), (shape, text)
            if isinstance(typed, datetime):
                assert local == (
                    typed.replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)
                ) // timedelta(seconds=1)
            proved += 1
    assert proved > 500


@pytest.mark.parametrize(
    ("shape", "kind", "good", "left"),
    [
        (
            {"type": "integer"}, INTEGER,
            ["0", "-7", "007", "9" * 18], ["+6", "1_0", " 1", "9" * 19, "-", "٣"],
        ),
        (
            {"type": "number"}, NUMBER,
            ["1", "1.50", "-0.5"], [".5", "5.", "1e2", "NaN", "9" * 17, "1.2.3"],
        ),
        ({"type": "number", "decimalChar": ","}, NUMBER, ["1,5"], ["1.5"]),
        (
            {"type": "date"}, DATE,
            ["2024-02-29", "9999-12-31"], ["2023-02-29", "0000-01-01", "2024-1-5"],
        ),
        (
            {"type": "datetime"}, DATETIME,
            ["2024-01-02T23:59:59", "2024-01-02T00:00:00Z"], ["2024-01-02T24:00:00"],
        ),
        ({"type": "time"}, TIME, ["23:59:59"], ["24:00:00", "1:02:03"]),
        ({"type": "string", "constraints": {"maxLength": 2}}, TEXT, ["äö", "𝄞x"], ["abc"]),
    ],
)  # fmt: skip
def test_canonical_forms_are_proved_and_all_else_is_asked(shape, kind, good, left):
    columns, _ = column({"name": "a"} | shape)
    assert columns.kind[0] == kind
    assert [proof(columns, text)[0] for text in good] == [True] * len(good)
    assert [proof(columns, text)[0] for text in left] == [False] * len(left)


@pytest.mark.parametrize(
    ("limits", "good", "bad"),
    [
        ({"minimum": 0.5}, ["0.5", "0.50", "1"], ["0.49", "0", "-1"]),
        ({"exclusiveMinimum": "0.5"}, ["0.51", "1"], ["0.5", "0.50"]),
        ({"maximum": 2}, ["2", "2.00"], ["2.01", "3"]),
        ({"exclusiveMaximum": 2}, ["1.99"], ["2", "2.0"]),
    ],
)
def test_bounds_of_decimals_are_exact(limits, good, bad):
    columns, _ = column({"name": "a", "type": "number", "constraints": limits})
    assert all(proof(columns, text)[0] for text in good)
    assert not any(proof(columns, text)[0] for text in bad)


def test_a_bound_without_a_zone_leaves_times_with_one_to_frictionless():
    shape = {"name": "a", "type": "datetime", "constraints": {"minimum": "2024-01-01T00:00:00"}}
    columns, _ = column(shape)
    assert proof(columns, "2024-01-01T00:00:00")[0]
    assert not proof(columns, "2024-01-01T00:00:00Z")[0]


@pytest.mark.parametrize(
    "equal",
    [
        [1, Decimal("1.00"), True, 1.0, Decimal("1E0")],
        [Decimal("0.1"), Decimal("0.100")],
        [0, Decimal("-0.0"), Decimal("0E+40"), False],
        [10**30, Decimal(10**30)],
        [datetime(2024, 1, 1, 12, tzinfo=UTC), datetime.fromisoformat("2024-01-01T13:00:00+01:00")],
    ],
)
def test_equal_values_have_one_digest_whatever_their_type(equal):
    assert len({int(digest_of(value, SEED)) for value in equal}) == 1


def test_unlike_values_have_unlike_digests_and_an_empty_one_has_none():
    values = [
        "1",
        1,
        date(2024, 1, 1),
        datetime(2024, 1, 1),  # noqa: DTZ001 - one without a zone is meant
        time(1, 0),
        "",
        2,
        Decimal("0.1"),
        0.1,
    ]
    digests = {int(digest_of(value, SEED)) for value in values}
    assert len(digests) == len(values)
    assert 0 not in digests
    assert digest_of(None, SEED) == 0
