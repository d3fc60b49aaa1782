"""Random tables and schemas that are wrong in every way that a seed can think of."""

import csv
import io
import random
from pathlib import Path
from typing import Any

V2 = "https://datapackage.org/profiles/2.0/datapackage.json"

# For each type: texts that are good, odd or wrong, and what may be asked of them.
TEXTS: dict[str, list[str]] = {
    "integer": [
        "1",
        "2",
        "3",
        "7",
        "007",
        "-0",
        "0",
        "+6",
        "1_000",
        " 4",
        "4 ",
        "1.0",
        "x",
        "٣",
        "-12",
        "999999999999999999",
        "9999999999999999999",
        "1e2",
        "",
        "-999",
        "12px",
        "$5",
        "NaN",
    ],
    "number": [
        "1",
        "1.0",
        "1.00",
        "0.1",
        "-2.5",
        ".5",
        "5.",
        "1e2",
        "NaN",
        "INF",
        "-INF",
        "1,5",
        "1.2.3,4",
        "1 000",
        "+1",
        "0.10",
        "100",
        "-0.0",
        "9007199254740993",
        "123456789012345678",
        "x",
        "",
        "-999",
        "1_0",
        "12%",
        "sNaN",
        "10.000000000000000000001",
        "0.5",
        "3",
    ],
    "string": [
        "a",
        "b",
        "c",
        "ab",
        "",
        "äöü",
        "𝄞x",
        "a\nb",
        'say "x"',
        "a,b",
        "NA",
        " a",
        "a ",
        "x@y.org",
        "http://x.org/a",
        "long" * 8,
        "\u200b",
        "a\r\nb",
        "'q'",
    ],
    "any": ["a", "1", "", "NA", "é"],
    "boolean": ["true", "false", "True", "1", "0", "yes", "", "TRUE", "t"],
    "date": [
        "2024-01-02",
        "2024-02-29",
        "2023-02-29",
        "2024-1-5",
        "0001-01-01",
        "0000-01-01",
        "31/12/2024",
        "2024-12-31",
        "",
        "x",
        "9999-12-31",
        "2024-01-02 ",
        "2024-13-01",
    ],
    "datetime": [
        "2024-01-02T03:04:05",
        "2024-01-02T03:04:05Z",
        "2024-01-02T04:04:05+01:00",
        "2024-01-02 03:04:05",
        "2024-01-02T24:00:00",
        "2024-01-02T03:04",
        "2024-01-02T03:04:05.5",
        "",
        "x",
        "2024-02-30T00:00:00",
        "2024-01-03T00:00:00",
        "2024-01-02T03:04:05-00:00",
        "2024-01-02T03:04:60",
        "2024-01-02T02:34:05-00:30",
        "2024-01-02T03:04:05+0100",
    ],
    "time": [
        "01:02:03",
        "24:00:00",
        "23:59:59",
        "01:02",
        "01:02:03Z",
        "",
        "x",
        "1:02:03",
        "01:02:03.5",
        "01:02:03+01:00",
        "00:00:60",
    ],
    "year": ["2024", "0", "-5", "99999", "x", "", "20240"],
    "yearmonth": ["2024-01", "2024-13", "", "x", "2024-1"],
    "duration": ["P1Y", "PT5M", "x", "", "P1D"],
    "geopoint": ["1,2", "1, 2", "200,2", "x", ""],
    "array": ["[]", "[1]", "x", ""],
    "object": ["{}", '{"a": 1}', "[]", ""],
}
FORMATS: dict[str, list[str]] = {
    "string": ["default", "email", "uri", "uuid", "binary"],
    "date": ["default", "any", "%d/%m/%Y", "%Y-%m-%d"],
    "datetime": ["default", "any", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S"],
    "time": ["default", "any", "%H:%M", "%H:%M:%S"],
}
BOUNDS: dict[str, list[Any]] = {
    "integer": [0, 2, "3", -1, 7, 10**20],
    "number": [0, 0.5, "1.0", "2.55", 100, -2],
    "date": ["2024-01-02", "2023-05-01"],
    "datetime": ["2024-01-02T03:04:05", "2023-01-01T00:00:00", "2024-01-02T03:04:05Z"],
    "time": ["01:02:03", "12:00:00"],
    "year": ["2000"],
    "yearmonth": ["2024-01"],
}
COMMON = ["integer", "number", "string", "string", "date", "datetime", "time"]
LAYOUTS = [",", ",", ",", ";", "\t", "|"]
MISSING: list[list[str]] = [
    [""],
    [""],
    ["", "NA"],
    ["", "-999", "x"],
    ["NA"],
    [],
    ["", "2024-01-02"],
]


def a_field(draw: random.Random, name: str, *, is_v2: bool) -> dict[str, Any]:
    """Draw one field."""
    kind = draw.choice([*TEXTS, *COMMON, *COMMON])
    field: dict[str, Any] = {"name": name, "type": kind}
    if draw.random() < 0.3 and kind in FORMATS:
        field["format"] = draw.choice(FORMATS[kind])
    limits: dict[str, Any] = {}
    if draw.random() < 0.3:
        limits["required"] = True
    if draw.random() < 0.15:
        limits["unique"] = True
    if draw.random() < 0.3 and kind in BOUNDS:
        names = ["minimum", "maximum", *(["exclusiveMinimum", "exclusiveMaximum"] if is_v2 else [])]
        for one in draw.sample(names, draw.randint(1, 2)):
            limits[one] = draw.choice(BOUNDS[kind])
    if draw.random() < 0.15 and kind == "string":
        limits |= draw.choice([{"minLength": 2}, {"maxLength": 3}, {"pattern": "[a-c]+"}])
    if draw.random() < 0.15 and kind in {"string", "integer", "number", "boolean"}:
        limits["enum"] = draw.sample([text for text in TEXTS[kind] if text], 3)
    if limits:
        field["constraints"] = limits
    if kind == "integer" and draw.random() < 0.15:
        field["bareNumber"] = False
    if kind == "number" and draw.random() < 0.4:
        field |= draw.choice(
            [
                {"decimalChar": ","}, {"groupChar": ","}, {"bareNumber": False},
                {"floatNumber": True}, {"decimalChar": ",", "groupChar": "."},
                {"bareNumber": False, "decimalChar": ","},
            ]
        )  # fmt: skip
    if kind == "boolean" and draw.random() < 0.3:
        field |= {"trueValues": ["yes", "t"], "falseValues": ["0"]}
    if is_v2 and draw.random() < 0.1:
        field["missingValues"] = draw.choice(MISSING)
    return field


def a_schema(draw: random.Random, *, is_v2: bool) -> dict[str, Any]:
    """Draw a schema, with keys more often than life has them."""
    names = [f"f{number}" for number in range(draw.randint(1, 6))]
    schema: dict[str, Any] = {"fields": [a_field(draw, name, is_v2=is_v2) for name in names]}
    if draw.random() < 0.3:
        schema["missingValues"] = draw.choice(MISSING)
    if draw.random() < 0.5:
        schema["primaryKey"] = draw.sample(names, min(len(names), draw.randint(1, 2)))
    if is_v2 and draw.random() < 0.15:
        schema["fieldsMatch"] = draw.choice(["equal", "subset", "superset", "partial", "exact"])
    links = []
    if draw.random() < 0.35:
        there = draw.choice(["other", "", "table"])
        size = min(len(names), draw.randint(1, 2))
        if there == "other":
            size = 1
        links.append(
            {
                "fields": draw.sample(names, size),
                "reference": {
                    "resource": there,
                    "fields": ["key"] if there == "other" else draw.sample(names, size),
                },
            }
        )
    if links:
        schema["foreignKeys"] = links
    return schema


def a_table(draw: random.Random, schema: dict[str, Any], delimiter: str) -> str:
    """Draw a table for a schema: mostly right, and wrong in places."""
    fields = schema["fields"]
    labels = [field["name"] for field in fields]
    if draw.random() < 0.1:
        draw.shuffle(labels)
    if draw.random() < 0.06:
        labels.append(draw.choice(["extra", labels[0], ""]))
    if draw.random() < 0.06 and len(labels) > 1:
        labels.pop()
    ending = draw.choice(["\n", "\n", "\r\n", "\r"])
    quoting = draw.choice([csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator=ending, quoting=quoting)
    writer.writerow(labels)
    spoilt = draw.choice([0.0, 0.1, 0.6])
    for _ in range(draw.randint(0, 24)):
        row = [
            draw.choice(TEXTS[field["type"]][: None if draw.random() < 0.5 else 4])
            for field in fields
        ]
        if draw.random() < 0.08:
            row.append("more")
        if draw.random() < 0.08:
            del row[draw.randint(0, len(row)) :]
        if draw.random() < 0.05:
            row = [""] * len(row)
        if draw.random() < 0.04:
            out.write(ending)
        if spoilt and draw.random() < spoilt * 0.2:
            out.write(draw.choice(['"a" b', 'x"y', '"', '""', '" ', "'", '"a""']) + delimiter)
        writer.writerow(row)
    text = out.getvalue()
    if draw.random() < 0.1:
        text = text.rstrip("\r\n")
    if draw.random() < 0.03:
        text += draw.choice(['"open', '"', delimiter, '"a""'])
    return text


def write_case(folder: Path, seed: int) -> dict[str, Any]:
    """Write the tables of a seed, and give their descriptor."""
    draw = random.Random(seed)
    is_v2 = draw.random() < 0.6
    delimiter = draw.choice(LAYOUTS)
    schema = a_schema(draw, is_v2=is_v2)
    ending = "tsv" if delimiter == "\t" and draw.random() < 0.5 else "csv"
    mark = b"\xef\xbb\xbf" if draw.random() < 0.05 else b""
    text = a_table(draw, schema, delimiter)
    (folder / f"table.{ending}").write_bytes(mark + text.encode())
    other = "key,n\n" + "".join(
        f"{key},1\n"
        for key in draw.sample(["a", "b", "1", "2", "1.0", "2024-01-02", "x", "", "3"], 4)
    )
    (folder / "other.csv").write_text(other, encoding="utf-8")
    shared = {"type": "table", "scheme": "file"}
    layout = {
        "headerRows": [1],
        "csv": {
            "delimiter": delimiter,
            "quoteChar": draw.choice(['"', '"', '"', "'"]),
            "skipInitialSpace": draw.random() < 0.1,
            "lineTerminator": "\r\n",
        },
    }
    plain = {"headerRows": [1], "csv": {"delimiter": ",", "quoteChar": '"',
             "skipInitialSpace": False, "lineTerminator": "\r\n"}}  # fmt: skip
    kind = draw.choice(["string", "integer", "number"])
    resources = [
        shared | {"name": "table", "path": f"table.{ending}", "format": ending,
                  "encoding": draw.choice(["utf-8", "utf-8-sig"]) if mark else "utf-8",
                  "dialect": layout, "schema": schema},
        shared | {"name": "other", "path": "other.csv", "format": "csv", "encoding": "utf-8",
                  "dialect": plain,
                  "schema": {"fields": [{"name": "key", "type": kind}, {"name": "n"}]}},
    ]  # fmt: skip
    return ({"$schema": V2} if is_v2 else {}) | {"name": "case", "resources": resources}
