"""Random pairs of dictionaries, each with tables that are valid under the old one."""

import copy
import random
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

from frictionless import Field, FrictionlessException, Package, system

from archive.extending.changes import Verdict
from archive.extending.comparing import compare
from tests.worlds.random_tables import BOUNDS, FORMATS, MISSING, TEXTS, V2, a_field, a_schema

type Descriptor = dict[str, Any]
type Rows = list[list[str]]

MODES = ["exact", "equal", "subset", "superset", "partial"]
MORE_TEXTS = {
    "list": ["a,b", "a", "1;2", ""],
    "geojson": ['{"type": "Point", "coordinates": [1, 2]}', ""],
}
KINDS = [*TEXTS, *MORE_TEXTS]
ROWS = 12


def a_pair(draw: random.Random) -> tuple[Descriptor, Descriptor]:
    """Draw a dictionary and a later one: the old one changed in one to four places."""
    old = _descriptor(draw, a_schema(draw, is_v2=True))
    new = copy.deepcopy(old)
    for _ in range(draw.choice([0, 1, 1, 1, 1, 2, 2, 3, 4])):
        draw.choice(EDITS)(draw, new["resources"][draw.choice([0, 0, 0, 1])]["schema"])
    return old, new


def _descriptor(draw: random.Random, schema: Descriptor) -> Descriptor:
    if draw.random() < 0.6:
        schema["fieldsMatch"] = draw.choice(MODES)
    for number, field in enumerate(schema["fields"]):
        if draw.random() < 0.7:
            field["x:fieldId"] = f"id{number}"
    other = {"fields": [{"name": "key", "type": draw.choice(["string", "integer", "number"])}]}
    return {
        "$schema": V2,
        "name": "pair",
        "resources": [
            {"name": "table", "type": "table", "path": "table.csv", "schema": schema},
            {"name": "other", "type": "table", "path": "other.csv", "schema": other},
        ],
    }


def judge(
    seeds: Iterable[int], *, tables: int, also: bool = False
) -> tuple[Counter[str], list[str]]:
    """Compare the pairs of the seeds, and have frictionless judge tables that were valid.

    Parameters
    ----------
    seeds : iterable of int
    tables : int
        How many to draw for each pair.
    also : bool
        Whether to judge those too that are not called compatible, to count false alarms.

    Returns
    -------
    counted, wrong
        What was judged; and each pair that was called compatible and is not, by its seed.
    """
    counted: Counter[str] = Counter()
    wrong: list[str] = []
    for seed in seeds:
        draw = random.Random(seed)
        old, new = a_pair(draw)
        told = compare(old, new)
        counted[told.verdict.value] += 1
        if told.verdict is not Verdict.COMPATIBLE and not also:
            continue
        held = [errors_of(new, one) == [] for one in valid_tables(draw, old, tables, counted)]
        if all(held):
            counted[f"{told.verdict}, and all held"] += bool(held)
        elif not is_readable(new):
            counted["refused by frictionless"] += 1
        elif told.verdict is Verdict.COMPATIBLE:
            wrong.append(f"{seed}: {told.changes}")
    return counted, wrong


# ------------------------------------------------------------------ what is changed


def _some_field(draw: random.Random, schema: Descriptor) -> Descriptor:
    return draw.choice(schema["fields"])


def _limits(field: Descriptor) -> dict[str, Any]:
    return field.setdefault("constraints", {})


def _retype(draw: random.Random, schema: Descriptor) -> None:
    field = _some_field(draw, schema)
    wider = {"integer": ["number", "string", "any"], "string": ["any"], "any": ["string"]}
    field["type"] = draw.choice([*wider.get(field["type"], ["string", "any"]) * 3, *KINDS])
    if draw.random() < 0.7:
        for key in ("format", "bareNumber", "groupChar", "decimalChar", "floatNumber"):
            field.pop(key, None)
        for key in draw.sample(sorted(_limits(field)), len(_limits(field))):
            if key != "required" and draw.random() < 0.9:
                del field["constraints"][key]


def _reformat(draw: random.Random, schema: Descriptor) -> None:
    field = _some_field(draw, schema)
    if field["type"] in FORMATS:
        field["format"] = draw.choice(FORMATS[field["type"]])
    elif field["type"] in {"integer", "number"}:
        field["bareNumber"] = draw.random() < 0.5


def _bound(draw: random.Random, schema: Descriptor) -> None:
    field = _some_field(draw, schema)
    name = draw.choice(["minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"])
    if field["type"] in BOUNDS:
        _limits(field)[name] = draw.choice(BOUNDS[field["type"]])


def _loosen(draw: random.Random, schema: Descriptor) -> None:
    limits = _limits(_some_field(draw, schema))
    if limits:
        del limits[draw.choice(sorted(limits))]


def _widen(draw: random.Random, schema: Descriptor) -> None:
    for field in schema["fields"]:
        limits = _limits(field)
        if "enum" in limits:
            limits["enum"] = [*limits["enum"], draw.choice(TEXTS[field["type"]])]
        for name, step in (("minimum", -1), ("maximum", 1), ("minLength", -1), ("maxLength", 1)):
            if isinstance(limits.get(name), int):
                limits[name] += step
                if draw.random() < 0.2 and "Length" not in name:
                    limits[f"exclusive{name.capitalize()}"] = limits.pop(name)


def _tighten(draw: random.Random, schema: Descriptor) -> None:
    field = _some_field(draw, schema)
    asked = [{"required": True}, {"unique": True}, {"minLength": 1}, {"enum": ["1", "2", "a"]}]
    _limits(field).update(draw.choice(asked))


def _miss(draw: random.Random, schema: Descriptor) -> None:
    place = schema if draw.random() < 0.5 else _some_field(draw, schema)
    place["missingValues"] = draw.choice([*MISSING, ["", "NA", "nan"], ["", "not seen"]])


def _truth(draw: random.Random, schema: Descriptor) -> None:
    for field in schema["fields"]:
        if field["type"] == "boolean":
            true = draw.choice([["yes"], ["yes", "t", "true"], ["true", "True", "TRUE", "1", "y"]])
            field["trueValues"] = true
            field["falseValues"] = draw.choice([["0"], ["false", "False", "FALSE", "0", "n"]])


def _match(draw: random.Random, schema: Descriptor) -> None:
    schema["fieldsMatch"] = draw.choice(MODES)


def _add(draw: random.Random, schema: Descriptor) -> None:
    field = a_field(draw, draw.choice(["added", "extra"]), is_v2=True)
    schema["fields"].insert(draw.randint(0, len(schema["fields"])), field)


def _remove(draw: random.Random, schema: Descriptor) -> None:
    if len(schema["fields"]) > 1:
        schema["fields"].remove(_some_field(draw, schema))


def _shuffle(draw: random.Random, schema: Descriptor) -> None:
    draw.shuffle(schema["fields"])


def _rename(draw: random.Random, schema: Descriptor) -> None:
    _some_field(draw, schema)["name"] = draw.choice(["added", "called_otherwise"])


def _key(draw: random.Random, schema: Descriptor) -> None:
    names = [field["name"] for field in schema["fields"]]
    if draw.random() < 0.5:
        schema.pop("primaryKey", None)
    else:
        schema["primaryKey"] = draw.sample(names, min(len(names), draw.randint(1, 2)))


def _link(draw: random.Random, schema: Descriptor) -> None:
    if draw.random() < 0.6:
        schema.pop("foreignKeys", None)
        return
    here = _some_field(draw, schema)["name"]
    far = {"resource": "other", "fields": ["key"]}
    schema["foreignKeys"] = [{"fields": [here], "reference": far}]


def _describe(draw: random.Random, schema: Descriptor) -> None:
    field = _some_field(draw, schema)
    field[draw.choice(["title", "description"])] = "Said otherwise"


EDITS = [
    _retype, _retype, _reformat, _bound, _loosen, _loosen, _widen, _widen, _tighten, _miss, _miss,
    _truth, _match, _add, _remove, _shuffle, _rename, _key, _link, _describe,
]  # fmt: skip


# ------------------------------------------------------------------ tables that are valid


def errors_of(descriptor: Descriptor, tables: dict[str, Rows]) -> list[Any] | None:
    """Give what frictionless says of the tables; None where it will not begin, or crashes."""
    whole = copy.deepcopy(descriptor)
    for resource in whole["resources"]:
        resource.pop("path")
        resource["data"] = tables[resource["name"]]
    try:
        with system.use_context(standards="v2"):
            report = Package.from_descriptor(whole).validate(limit_errors=0)
    except FrictionlessException:
        return None
    except Exception:  # noqa: BLE001 - that it crashes is what is asked
        return None
    return [*report.errors, *(error for task in report.tasks for error in task.errors)]


def is_readable(descriptor: Descriptor) -> bool:
    """Whether frictionless takes the descriptor at all."""
    heads = {
        resource["name"]: [[field["name"] for field in resource["schema"]["fields"]]]
        for resource in descriptor["resources"]
    }
    told = errors_of(descriptor, heads)
    return told is not None and not any(error.type.endswith("-error") for error in told)


def valid_tables(
    draw: random.Random, old: Descriptor, most: int, counted: Counter[str]
) -> Iterator[dict[str, Rows]]:
    """Draw tables that are valid under a dictionary, columns left out or added as it allows."""
    pools = {
        resource["name"]: {
            field["name"]: _good_texts(field, resource["schema"])
            for field in resource["schema"]["fields"]
        }
        for resource in old["resources"]
    }
    for _ in range(most):
        tables = {
            resource["name"]: _table(draw, resource["schema"], pools[resource["name"]])
            for resource in old["resources"]
        }
        if _made_valid(old, tables):
            counted["tables"] += 1
            counted["rows"] += len(tables["table"]) - 1
            yield tables


def _good_texts(field: Descriptor, schema: Descriptor) -> list[str]:
    """Give the texts of all kinds that a cell of the field may hold."""
    whole = {"missingValues": schema.get("missingValues", [""])} | field
    texts = {text for kind in (TEXTS | MORE_TEXTS).values() for text in kind}
    texts |= {str(bound) for kind in BOUNDS.values() for bound in kind} | {"not seen", "nan", "y"}
    with system.use_context(standards="v2"):
        try:
            read = Field.from_descriptor(whole).create_cell_reader()
        except FrictionlessException:
            return []
    return [text for text in sorted(texts) if _is_good(read, text)]


def _is_good(read: Any, text: str) -> bool:
    try:
        return read(text)[1] is None
    except Exception:  # noqa: BLE001 - a reader that crashes takes nothing
        return False


def _table(draw: random.Random, schema: Descriptor, pools: dict[str, list[str]]) -> Rows:
    names = [field["name"] for field in schema["fields"]]
    mode = schema.get("fieldsMatch", "exact")
    if mode != "exact" and draw.random() < 0.5:
        draw.shuffle(names)
    if mode in {"superset", "partial"} and len(names) > 1 and draw.random() < 0.5:
        names.pop()
    if mode in {"subset", "partial"} and draw.random() < 0.5:
        names.insert(draw.randint(0, len(names)), "extra")
    rows = [
        [draw.choice(pools.get(name) or ["x", "1", ""]) for name in names]
        for _ in range(draw.randint(0, ROWS))
    ]
    return [names, *rows]


def _made_valid(old: Descriptor, tables: dict[str, Rows]) -> bool:
    """Take the rows with an error away until none is left; say whether that is so."""
    for _ in range(4):
        told = errors_of(old, tables)
        if told is None:
            return False
        if not told:
            return True
        numbers = {getattr(error, "row_number", None) for error in told}
        if None in numbers:
            return False
        for name, (head, *rows) in tables.items():
            tables[name] = [head, *(r for at, r in enumerate(rows, start=2) if at not in numbers)]
    return False
