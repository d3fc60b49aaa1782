"""Every value in frictionless' own tables of values, as a file of one cell, judged both ways.

Source: the installed package frictionless carries the tables (fields/__spec__, MIT): of each type
the texts that it reads, and what they become. A value that is no text is written as Python shows
it. Compared are the errors word for word, and whether a text without a target has one.
"""

import csv
import importlib
import json
import pkgutil
from collections import Counter
from collections.abc import Iterator
from typing import Any

import frictionless.fields.__spec__ as spec
import numpy as np
import pytest

from archive.engine.descriptor import pin
from archive.engine.fast.plan import Slow
from tests.outside.test_frictionless_suite import V2
from tests.worlds.judged import ours, theirs

pytestmark = pytest.mark.outside

TYPES = sorted(name.removeprefix("test_") for _, name, _ in pkgutil.iter_modules(spec.__path__))


def values(kind: str) -> Iterator[tuple[dict[str, Any], Any, Any]]:
    """Give each row of a type's tables: the field, the value, and what it becomes."""
    module = importlib.import_module(f"{spec.__name__}.test_{kind}")
    for test in vars(module).values():
        for mark in getattr(test, "pytestmark", ()):
            names = [name.strip() for name in str(mark.args[0]).split(",")]
            if mark.name != "parametrize" or not {"source", "target"} <= set(names):
                continue
            for row in mark.args[1]:
                told = dict(zip(names, row, strict=True))
                field = {"name": "name", "type": kind, "format": told.get("format", "default")}
                yield field | told.get("options", {}), told["source"], told["target"]


@pytest.mark.parametrize("kind", TYPES)
def test_each_value_of_a_type_is_judged_word_for_word_as_frictionless_judges_it(kind, tmp_path):
    counted: Counter[str] = Counter()
    for number, (field, source, target) in enumerate(values(kind)):
        text = source if isinstance(source, str) else str(source)
        with (tmp_path / "cell.csv").open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, quoting=csv.QUOTE_ALL).writerows([["name"], [text]])
        try:
            json.dumps(field)
        except TypeError:
            counted["no descriptor"] += 1
            continue
        schema = {"fields": [field]}
        resource = {"name": "table", "type": "table", "path": "cell.csv", "schema": schema}
        descriptor = pin({"$schema": V2, "resources": [resource]})
        expected = theirs(descriptor, tmp_path, "table")
        case = f"{field} reads {text!r}"
        if expected is None:
            counted["refused by frictionless"] += 1
            continue
        if {error[0] for error in expected} == {"error"}:
            counted["wants a package that is not installed"] += 1
            continue
        try:
            told = ours(descriptor, tmp_path, "table", np.uint64(number + 1))
        except Slow as reason:
            counted[f"left to the slow way: {reason}"] += 1
            continue
        assert told == expected, case
        if isinstance(source, str) and text:
            assert bool(told) == (target is None), case
        counted["same"] += 1
    print(f"frictionless, values of {kind}: {dict(counted)}")
    assert counted["same"] >= 4, counted
    assert not any(reason.startswith("left") for reason in counted), counted


def test_the_tables_hold_as_many_values_as_are_known():
    assert sum(1 for kind in TYPES for _ in values(kind)) >= 370
    assert len(TYPES) == 16
