"""How a program that is handed over begins: it reads the published package by its address."""

OPENING = """import csv
import io
import itertools
import json
import math
import os
import sys
import urllib.request
import warnings

import numpy as np
from scipy import optimize, special, stats
"""

READING = '''
def fetch(address):
    """Read one address; the token, where one is set, opens data that are not open."""
    asked = urllib.request.Request(address)
    token = os.environ.get("STRANDLINE_TOKEN")
    if token:
        asked.add_header("Authorization", "Token " + token)
    with urllib.request.urlopen(asked) as answer:
        return answer.read()


def read(address):
    """Give the rows of the table as dictionaries; an empty cell is None."""
    package = json.loads(fetch(address))
    resource = next(one for one in package["resources"] if one["name"] == TABLE)
    schema, dialect = resource["schema"], resource.get("dialect") or {}
    fields = {field["name"]: field for field in schema["fields"]}
    text = fetch(address.rsplit("/", 1)[0] + "/" + resource["path"]).decode("utf-8-sig")
    rows = csv.DictReader(
        io.StringIO(text),
        delimiter=dialect.get("delimiter", ","),
        quotechar=dialect.get("quoteChar", '"'),
    )
    missing = schema.get("missingValues", [""])
    return [
        {name: plain(cell, fields.get(name, {}), missing) for name, cell in row.items()}
        for row in rows
    ]


def plain(cell, field, missing):
    """Give a cell as its type is written by default: 1.50 and 1.5 are one name."""
    missing = field.get("missingValues") or missing
    words = {one["value"] if isinstance(one, dict) else one for one in missing}
    if cell is None or cell in words or not cell.strip():
        return None
    cell, kind = cell.strip(), field.get("type")
    if kind == "boolean":
        return str(cell in field.get("trueValues", ["true", "True", "TRUE", "1"]))
    if kind in {"integer", "number"}:
        cell = cell.replace(field.get("groupChar") or "\\0", "")
        cell = cell.replace(field.get("decimalChar") or ".", ".")
        return str(int(cell)) if kind == "integer" else str(float(cell))
    return cell


def number(cell):
    return float("nan") if cell is None else float(cell)


def column(rows, slot):
    """The cells of the column that was named for a part of the analysis; None without one."""
    name = COLUMNS.get(slot)
    return [row[name] if name else None for row in rows]


def numbers(rows, slot):
    return np.array([number(cell) for cell in column(rows, slot)])


def days(cells):
    """Days since 1970-01-01, with the time of the day by the clock that was written."""
    def one(cell):
        if cell is None:
            return float("nan")
        return np.datetime64(cell[:19].strip(), "ms").astype(float) / 86_400_000
    return np.array([one(cell) for cell in cells])


def animals_of(rows):
    """The animal of each row; where no row names one, all are taken together."""
    found = column(rows, "animal")
    return found if any(found) else ["(no animal named)"] * len(rows)


def is_clock(rows, slot):
    """Whether a column holds moments, and no numbers."""
    return any(cell and "-" in cell[1:8] and ":" in cell for cell in column(rows, slot))


def seconds(rows, slot):
    """Seconds, as they stand or of moments."""
    if is_clock(rows, slot):
        return np.rint(days(column(rows, slot)) * 86_400_000) / 1000
    return numbers(rows, slot)


def in_order(names):
    """The different names, in the order in which they first occur."""
    return list(dict.fromkeys(one for one in names if one is not None))


def mean_of(values, least=-math.inf, most=math.inf):
    """Number, mean and spread over units, and the mean's t interval."""
    kept = np.array([one for one in values if not math.isnan(one)])
    n = len(kept)
    if n < 2:
        return n, float(kept[0]) if n else float("nan"), None, None, None
    half = stats.t.ppf(0.975, n - 1) * kept.std(ddof=1) / math.sqrt(n)
    middle = kept.mean()
    return n, middle, kept.std(ddof=1), max(least, middle - half), min(most, middle + half)


MADE = {}


def keep(table, row, beside, cells):
    """Keep the numbers of one row of a table, or of a test, by their headings."""
    for head, value in cells.items():
        if value is not None and not math.isnan(value):
            MADE[table, str(row), str(beside), head] = float(value)
'''
