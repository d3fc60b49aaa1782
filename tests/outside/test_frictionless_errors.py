"""The fast way against the installed frictionless, error for error, over its own tables.

Source: github.com/frictionlessdata/frictionless-py, folder data (MIT). Compared are type, row
number, field number, field name, note, message and cells of every error, and their order. What the
fast way leaves to the slow one although frictionless opens it is counted, with its reason: of 252
such pairs no more than 23 may be (the share that an earlier trial of this way of checking needed).
"""

import copy
import json
from collections import Counter
from typing import Any

import numpy as np
import pytest

from archive.engine.descriptor import pin
from archive.engine.fast.plan import Slow
from tests.outside.test_frictionless_suite import V2, pairs
from tests.worlds.judged import ours, theirs

pytestmark = pytest.mark.outside

EVERY = 3
MOST_LEFT = 23 / 252


def described(path: Any, schema: dict[str, Any], version: str) -> dict[str, Any]:
    resource = {"name": "table", "type": "table", "path": path.name, "schema": schema}
    return pin(({"$schema": version} if version else {}) | {"resources": [copy.deepcopy(resource)]})


def test_every_third_pair_of_schema_and_table_has_the_same_errors_word_for_word(suites):
    counted: Counter[str] = Counter()
    for number, (path, schema) in enumerate(pairs(suites / "frictionless" / "data")):
        if number % EVERY:
            continue
        descriptor = described(path, schema, V2 if number % 2 else "")
        expected = theirs(descriptor, path.parent, "table")
        if expected is None:
            counted["refused by frictionless"] += 1
            continue
        try:
            told = ours(descriptor, path.parent, "table", np.uint64(number + 1))
        except Slow as reason:
            if str(reason) == "it cannot be opened":
                assert expected, path.name
                counted["opened by neither"] += 1
                continue
            counted[f"left to the slow way: {reason}"] += 1
            counted["left"] += 1
            continue
        assert told == expected, f"{path.name} with {json.dumps(schema)[:300]}"
        counted["same"] += 1
        counted["errors"] += len(told)
    print(f"frictionless: {dict(counted)}")
    assert counted["same"] > 500
    assert counted["left"] / (counted["left"] + counted["same"]) <= MOST_LEFT, counted
