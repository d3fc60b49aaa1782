"""Results and units in long form: one number a row, as statistics programs read it."""

import csv
import io
from collections.abc import Mapping
from typing import Any

from registry.guarded.cells import safe_cell

HEAD = ("part", "table", "row", "arm", "quantity", "value")


def long_rows(result: Mapping[str, Any]) -> list[tuple[str, str, str, str, str, str]]:
    """Give every number of a result as a row.

    Parameters
    ----------
    result : mapping
        As it is recorded.

    Returns
    -------
    list of tuple of str
        In the order of `HEAD`; an empty value is not known.

    Examples
    --------
    >>> table = {"name": "t", "heads": ["unit", "arm", "mean"], "rows": [["T1", "x", 2.5]]}
    >>> long_rows({"tables": [table], "tests": []})
    [('table', 't', 'T1', 'x', 'mean', '2.5')]
    """
    rows = []
    for table in result.get("tables", []):
        heads = table["heads"]
        for row in table["rows"]:
            arm = str(row[heads.index("arm")]) if "arm" in heads else ""
            for head, value in zip(heads[1:], row[1:], strict=True):
                if head != "arm":
                    rows.append(("table", table["name"], str(row[0]), arm, head, _said(value)))
    for test in result.get("tests", []):
        numbers = [
            ("effect", test["effect"]),
            ("low", test["low"]),
            ("high", test["high"]),
            *test["figures"],
            ("p", test["p"]),
            ("smallest p", test["smallest_p"]),
        ]
        rows += [
            ("test", test["name"], test["compared"], "", name, _said(value))
            for name, value in numbers
            if value is not None
        ]
    return rows


def _said(value: object) -> str:
    return "" if value is None else repr(value) if isinstance(value, float) else str(value)


def long_csv(result: Mapping[str, Any]) -> str:
    """Give the rows as CSV with a heading.

    Notes
    -----
    A word that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow(HEAD)
    for row in long_rows(result):
        table.writerow([safe_cell(one) for one in row])
    return text.getvalue()
