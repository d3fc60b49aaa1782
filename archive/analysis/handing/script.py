"""A program of its own that reads the published data by address and makes the numbers again."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from archive.analysis.handing.bodies import BODIES, CLOSING, NOT_MADE, OPENING, READING


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
    What was drawn at random is drawn again there by the recorded seed, from the same stream, so
    that it is the same number. A kind in `NOT_YET` is not made again: its program says so, and
    ends with 2.
    """
    return "\n".join(cells(title, addresses, request, result, facts))


def cells(
    title: str,
    addresses: Mapping[str, str],
    request: Mapping[str, Any],
    result: Mapping[str, Any],
    facts: Mapping[str, Any],
) -> tuple[str, ...]:
    """Give the program in its parts: what was asked, reading, the sums, what was recorded."""
    names = ("name", "compared", "effect", "low", "high", "figures", "p", "smallest_p")
    asked = {
        "ADDRESSES": dict(addresses),
        "TABLE": request["table"],
        "COLUMNS": dict(request["columns"]),
        "OPTIONS": dict(request["options"]),
        "SEED": request.get("seed", 1),
        "DRAWN": facts.get("drawn"),
        "ETHOGRAM": facts.get("ethogram") or [],
        "ACTS": facts.get("acts") or [],
        "RECORDED_AS": facts.get("recorded") or [],
        "TABLES": {
            one["name"]: {"heads": one["heads"], "rows": one["rows"]}
            for one in result.get("tables", [])
        },
        "TESTS": [{name: one[name] for name in names} for one in result.get("tests", [])],
    }
    said = "".join(f"{name} = json.loads({_text(value)})\n" for name, value in asked.items())
    comment = " ".join(title.split()).replace('"', "'").replace("\\", "/")
    opened = f'"""{comment}: made again from the published data."""\n\n{OPENING}\n{said}'
    sums = BODIES.get(request["kind"])
    return (opened, READING, *((*sums, CLOSING) if sums else (NOT_MADE,)))


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
