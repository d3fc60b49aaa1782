"""A program of its own that reads the published data by address and makes the numbers again."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from archive.analysis.handing.bodies import BODIES, HEAD, TAIL


def script(
    title: str,
    addresses: Mapping[str, str],
    request: Mapping[str, Any],
    result: Mapping[str, Any],
    facts: Mapping[str, Any],
) -> str:
    """Write the program of one analysis.

    Parameters
    ----------
    title : str
    addresses : mapping of str to str
        Cohort to the address of the published descriptor.
    request, result, facts : mapping
        As they are recorded.

    Returns
    -------
    str
        Python that needs numpy and scipy, and nothing of ours. It ends with 0 where every number
        that it makes is the recorded one, else with 1.

    Notes
    -----
    What was drawn at random (intervals of these animals alone, p from some arrangements) comes
    from our own stream, and is not made again there; neither are exact p of ranks.
    """
    return "\n".join(cells(title, addresses, request, result, facts))


def cells(
    title: str,
    addresses: Mapping[str, str],
    request: Mapping[str, Any],
    result: Mapping[str, Any],
    facts: Mapping[str, Any],
) -> tuple[str, ...]:
    """Give the program in its parts: what was asked, reading, the sums, the comparison."""
    tables = {
        one["name"]: {"heads": one["heads"], "rows": one["rows"]}
        for one in result.get("tables", [])
    }
    tests = [
        {name: one[name] for name in ("name", "compared", "effect", "low", "high", "p")}
        for one in result.get("tests", [])
    ]
    drawn = facts.get("drawn") or {}
    asked = {
        "ADDRESSES": dict(addresses),
        "TABLE": request["table"],
        "COLUMNS": dict(request["columns"]),
        "OPTIONS": dict(request["options"]),
        "ALLOCATED": {place[0]: place[1] for place in drawn.get("places", [])},
        "TABLES": tables,
        "TESTS": tests,
    }
    said = "".join(f"{name} = json.loads({_text(value)})\n" for name, value in asked.items())
    comment = " ".join(title.split()).replace('"', "'").replace("\\", "/")
    opened = f'"""{comment}: made again from the published data."""\n\n{HEAD[0]}\n{said}'
    return opened, HEAD[1], BODIES[request["kind"]], TAIL


def _text(value: object) -> str:
    """Write a value so that a program reads back the same: JSON within a literal of Python."""
    return repr(json.dumps(value, ensure_ascii=False))


def notebook(parts: Sequence[str], title: str, words: str) -> str:
    """Give the program as a notebook: the words first, then a cell for each part.

    References
    ----------
    The notebook format 4.5, nbformat.readthedocs.io.
    """
    text = {
        "cell_type": "markdown",
        "id": "words",
        "metadata": {},
        "source": [f"# {title}\n", "\n", words],
    }
    code: list[dict[str, Any]] = [
        {
            "cell_type": "code",
            "execution_count": None,
            "id": f"part-{number}",
            "metadata": {},
            "outputs": [],
            "source": part.splitlines(keepends=True),
        }
        for number, part in enumerate(parts, 1)
    ]
    book = {
        "cells": [text, *code],
        "metadata": {
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }
    return json.dumps(book, ensure_ascii=False, indent=1) + "\n"
