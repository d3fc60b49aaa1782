"""The paragraph on methods that an analysis fills, with its references and reporting items."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from archive.analysis.handing.paragraphs import ESTIMATES, KINDS, TESTS
from archive.analysis.handing.references import REFERENCES

_OUTCOMES = (
    "outcome", "gain", "mass", "hatched", "rate", "responded", "lowest", "time",
    "behaviour", "zone",
)  # fmt: skip
"""Columns that hold an outcome, the first that was named."""


@dataclass(frozen=True, slots=True)
class Methods:
    """Words for a dissertation.

    Parameters
    ----------
    text : str
        One paragraph.
    references : tuple of str
        In the order of their names.
    items : tuple of (str, str)
        Item of the ARRIVE guidelines 2.0, and what fills it.
    """

    text: str
    references: tuple[str, ...]
    items: tuple[tuple[str, str], ...]


def methods(
    kind: str,
    request: Mapping[str, Any],
    result: Mapping[str, Any],
    facts: Mapping[str, Any],
    *,
    is_planned: bool,
    code: str,
    digest: str,
    data: Sequence[str],
) -> Methods:
    """Write the paragraph of one analysis.

    Parameters
    ----------
    kind : str
        A key of `archive.analysis.asked.kinds.KINDS`.
    request, result, facts : mapping
        As they are recorded.
    is_planned : bool
    code, digest : str
        Of what computed it and of its numbers.
    data : sequence of str
        Citation of each version that it reads.

    Examples
    --------
    >>> asked = {"table": "scans", "columns": {"animal": "ray"}, "seed": 1}
    >>> found = methods("budget", asked, {"tests": [], "gaps": []}, {}, is_planned=False,
    ...                 code="c0de", digest="d1", data=["Someone (2026). Scans."])
    >>> found.references[0][:14], found.items[0][0]
    ('Altmann, J. (1', '1 Study design')
    """
    opened, keys = KINDS[kind]
    tests = list(result.get("tests", []))
    used = [*keys, "arrive", *(key for one in tests for key in TESTS.get(one["name"], ()))]
    drawn = facts.get("drawn")
    sentences = [f"{opened}."]
    sentences += _of_tests(tests, result.get("choice"))
    if drawn:
        sentences.append(
            f"Units were allocated by {drawn['method']}, and analysed in the arm to which they "
            "were allocated."
        )
    sentences += _of_standing(is_planned, request, code, digest)
    sentences.append(f"Data: {'; '.join(one.rstrip('.') for one in data)}.")
    gaps = " ".join(f"{one['what']} {one['why']}" for one in result.get("gaps", []))
    return Methods(
        " ".join(sentences),
        tuple(sorted(REFERENCES[key] for key in dict.fromkeys(used))),
        _items(kind, request, tests, gaps, drawn),
    )


def _of_tests(tests: list[Mapping[str, Any]], choice: Mapping[str, Any] | None) -> list[str]:
    chosen = [one["title"] for one in tests if one["place"] == "chosen"]
    beside = [one["title"] for one in tests if one["place"] == "beside"]
    said = []
    if chosen and tests[0]["name"] in ESTIMATES:
        said.append(f"Estimated is the {chosen[0]}, with a 95 % interval.")
    elif chosen:
        said.append(f"The test is the {chosen[0]}, two-sided, with 95 % intervals.")
    if beside:
        said.append(f"Beside it stand: {'; '.join(dict.fromkeys(beside))}.")
    if choice and choice.get("assumes"):
        said.append(f"Assumed is: {' '.join(choice['assumes'])}")
    if choice and choice.get("smallest_p"):
        said.append(f"The smallest p that the draw could give is {choice['smallest_p']:.3g}.")
    return said


def _of_standing(is_planned: bool, request: Mapping[str, Any], code: str, digest: str) -> list[str]:
    named = "was named in the plan" if is_planned else "was not named in the plan: exploratory"
    return [
        f"The analysis {named}.",
        (
            f"It was computed by code of digest {code}, seed {request['seed']}; its numbers have "
            f"the SHA-256 {digest[:16]}…."
        ),
    ]


def _items(
    kind: str,
    request: Mapping[str, Any],
    tests: list[Mapping[str, Any]],
    gaps: str,
    drawn: Mapping[str, Any] | None,
) -> tuple[tuple[str, str], ...]:
    columns = request["columns"]
    unit = columns.get("unit") or columns.get("animal") or columns.get("observer") or ""
    outcome = next((columns[one] for one in _OUTCOMES if columns.get(one)), "")
    items = [("1 Study design", f"Experimental unit: “{unit}”.")]
    if gaps:
        items.append(("3 Inclusion and exclusion", gaps))
    if drawn:
        items.append(("4 Randomisation", f"By {drawn['method']}."))
    items.append(("6 Outcome measures", f"“{outcome}”, as the dictionary defines it."))
    if tests:
        items.append(("7 Statistical methods", "; ".join(one["title"] for one in tests) + "."))
        items.append(("10 Results", "Effects with 95 % intervals stand in the tables."))
    else:
        items.append(("7 Statistical methods", f"{KINDS[kind][0]}."))
    return tuple(items)
