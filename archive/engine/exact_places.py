"""Exact places in a table: where animals live free, telling them may bring them harm.

Only to read. The program does not know which kinds are threatened where: a person who does decides
how far a place is rounded, and the dictionary says so, so that every copy says it too.

References
----------
Chapman A.D. (2020), Current Best Practices for Generalizing Sensitive Species Occurrence Data:
to withhold, or to round to 0.1, 0.01 or 0.001 degree, and to say so (from memory). Darwin Core,
terms decimalLatitude, decimalLongitude and dataGeneralizations.
"""

import csv
import re
from collections.abc import Iterator, Mapping
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import Any

from archive.engine.codes import found
from archive.engine.findings import Finding
from archive.engine.reading import reader_options
from archive.engine.roles import GENERALISED, fields_of

LOOKED_ROWS = 20_000
"""Rows that are looked at; a column is as exact at its end as at its beginning."""
COARSE_DECIMALS = 2
"""0.01 degree is about a kilometre: finer is taken for exact."""

_HEADING = re.compile(r"(?:decimal)?[ _-]?(?:lat|lon|lng|long|latitude|longitude)", re.IGNORECASE)
_FINE = re.compile(rf"\s*[+-]?\d{{1,3}}[.,]\d{{{COARSE_DECIMALS + 1},}}\s*")


def is_coordinate(field: Mapping[str, Any]) -> bool:
    """Say whether a column holds degrees of latitude or longitude.

    Examples
    --------
    >>> is_coordinate({"name": "decimalLatitude"}), is_coordinate({"name": "latency"})
    (True, False)
    """
    return field.get("type") == "geopoint" or bool(_HEADING.fullmatch(str(field["name"])))


def exact_places(path: Path, resource: Mapping[str, Any]) -> Iterator[Finding]:
    """Find columns with degrees finer than 0.01 that the dictionary does not say are rounded.

    Parameters
    ----------
    path : Path
        The table, readable and in UTF-8.
    resource : mapping
        Of the pinned descriptor: its name, dialect and schema.
    """
    names = {
        str(field["name"])
        for field in fields_of(resource["schema"])
        if is_coordinate(field) and not field.get(GENERALISED)
    }
    if not names:
        return
    layout = dict(resource.get("dialect", {}).get("csv", {}))
    first: dict[str, int] = {}
    with (
        suppress(csv.Error, UnicodeError),
        path.open(encoding="utf-8-sig", newline="") as stream,
    ):
        lines = csv.reader(stream, **reader_options(layout))
        columns = [(at, name) for at, name in enumerate(next(lines, [])) if name in names]
        for row, cells in enumerate(islice(lines, LOOKED_ROWS), start=2):
            for at, name in columns:
                if at < len(cells) and any(_FINE.fullmatch(one) for one in _parts(cells[at])):
                    first.setdefault(name, row)
    for name, row in sorted(first.items()):
        message = f"Column “{name}” tells places finer than 0.01 degree, the first in row {row:,}."
        yield found("exact-place", message, table=str(resource["name"]), row=row, field=name)


def _parts(cell: str) -> list[str]:
    """Give the numbers of a cell: a pair of them has a sign and a space between."""
    return cell.strip("[]").split(", ")


def generalisations(resources: list[dict[str, Any]]) -> str:
    """Say in a sentence for each column how far its places were rounded; empty where none was."""
    said = [
        f"{resource['name']}, {field['name']}: {field[GENERALISED]}"
        for resource in resources
        if isinstance(resource.get("schema"), dict)
        for field in fields_of(resource["schema"])
        if isinstance(field.get(GENERALISED), str) and field[GENERALISED].strip()
    ]
    return "; ".join(said)
