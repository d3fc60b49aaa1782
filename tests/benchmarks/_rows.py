"""The table that validation is measured with: 15 columns, a composite key, a unique one, a link."""

import random
from pathlib import Path
from typing import Any

SEED = 20260301
BEHAVIOURS = ("rest", "swim", "feed", "dig", "hide")
LAYOUT = {
    "headerRows": [1],
    "csv": {
        "delimiter": ",",
        "quoteChar": '"',
        "skipInitialSpace": False,
        "lineTerminator": "\r\n",
    },
}
V2 = "https://datapackage.org/profiles/2.0/datapackage.json"


def field(name: str, kind: str, **limits: Any) -> dict[str, Any]:
    """Give one field."""
    return {"name": name, "type": kind} | ({"constraints": limits} if limits else {})


SCHEMA: dict[str, Any] = {
    "fields": [
        field("record", "integer", required=True, unique=True),
        field("session", "string", required=True),
        field("seen_at", "datetime", required=True),
        field("day", "date", required=True),
        field("animal", "string", required=True),
        field("observer", "string", required=True, pattern="OB-[0-9]+"),
        field("behaviour", "string", enum=list(BEHAVIOURS)),
        field("length", "number", minimum=0, maximum=1000),
        field("mass", "number", minimum=0),
        field("count", "integer", minimum=0, maximum=500),
        field("seen", "boolean"),
        field("depth", "number"),
        field("started", "time"),
        field("code", "string", maxLength=12),
        field("note", "string"),
    ],
    "primaryKey": ["session", "animal", "seen_at"],
    "foreignKeys": [
        {"fields": ["animal"], "reference": {"resource": "animals", "fields": ["code"]}}
    ],
}
# One fault of every kind: the column, and what is written there.
FAULTS = [
    (7, "many"), (9, "501"), (3, "2026-02-30"), (4, "RAY-77"), (0, "1"), (6, "fly"), (2, ""),
    (10, "maybe"), (13, "C" * 13), (12, "25:00:00"),
]  # fmt: skip


def a_row(draw: random.Random, number: int) -> list[str]:
    """Draw one good row; the quoted column holds a delimiter, and now and then a mark."""
    scan = number // 40
    day = f"2026-03-{1 + scan // 86_400 % 28:02d}"
    clock = f"{scan // 3_600 % 24:02d}:{scan // 60 % 60:02d}:{scan % 60:02d}"
    return [
        str(number + 1),
        f"SE-{number // 4_000:05d}",
        f"{day}T{clock}",
        day,
        f"RAY-{number % 40:02d}",
        f"OB-{number % 7}",
        BEHAVIOURS[draw.randrange(5)],
        f"{draw.random() * 1000:.2f}",
        f"{draw.random() * 90:.3f}",
        str(draw.randrange(500)),
        "true" if number & 1 else "false",
        f"{draw.random() * -30:.2f}",
        f"{8 + number % 9:02d}:{number % 60:02d}:00",
        f"C{number % 9_973:06d}",
        '"calm, with ""spots"""' if number % 8 == 0 else '"quiet, clear"',
    ]


def write_rows(folder: Path, rows: int, *, bad_rows: float = 0, bad_cells: float = 0) -> Path:
    """Write the two tables: a share of the rows gets one fault, or a share of all cells is bad."""
    draw, spoil = random.Random(SEED), random.Random(SEED + 1)
    folder.mkdir(parents=True, exist_ok=True)
    animals = "".join(f"RAY-{number:02d},undulate ray\n" for number in range(40))
    (folder / "animals.csv").write_text(f"code,species\n{animals}", encoding="utf-8")
    path = folder / "rows.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        out.write(",".join(one["name"] for one in SCHEMA["fields"]) + "\n")
        for number in range(rows):
            row = a_row(draw, number)
            if bad_rows and spoil.random() < bad_rows:
                at, text = FAULTS[spoil.randrange(len(FAULTS))]
                row[at] = text
            for at in range(15) if bad_cells else ():
                if spoil.random() < bad_cells:
                    row[at] = "" if at in {1, 14} else "C" * 13 if at == 13 else "?"
            out.write(",".join(row) + "\n")
    return path


def descriptor() -> dict[str, Any]:
    """Describe the two tables."""
    shared = {
        "type": "table",
        "scheme": "file",
        "format": "csv",
        "encoding": "utf-8",
        "dialect": LAYOUT,
    }
    animals = {"fields": [field("code", "string"), field("species", "string")]}
    return {
        "$schema": V2,
        "name": "measured",
        "resources": [
            shared | {"name": "rows", "path": "rows.csv", "schema": SCHEMA},
            shared | {"name": "animals", "path": "animals.csv", "schema": animals},
        ],
    }
