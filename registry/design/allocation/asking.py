"""An allocation asked by the name of its method, as a page, the API or a plan asks it."""

from collections.abc import Callable, Mapping
from typing import Any

from registry.design import bounds
from registry.design.allocation.base import Allocation
from registry.design.allocation.deals import blocked, complete, permuted
from registry.design.allocation.minimised import minimised
from registry.design.allocation.phased import phased
from registry.design.allocation.rerandomised import rerandomised
from registry.design.allocation.squares import crossover, latin
from registry.design.draws import Stream

type Given = Mapping[str, Any]


def _needs(given: Given, name: str) -> Any:
    if not given.get(name):
        bounds.refuse(
            name, f"This method needs {name}.", "They were left out.", f"Give {name} too."
        )
    return given[name]


def _some(given: Given, *names: str) -> dict[str, Any]:
    return {name: given[name] for name in names if given.get(name) is not None}


METHODS: dict[str, Callable[[Given, Stream], Allocation]] = {
    "complete": lambda given, stream: complete(_needs(given, "units"), given["arms"], stream),
    "blocked": lambda given, stream: blocked(_needs(given, "blocks"), given["arms"], stream),
    "stratified": lambda given, stream: blocked(
        _needs(given, "blocks"), given["arms"], stream, method="stratified randomisation"
    ),
    "permuted": lambda given, stream: permuted(
        _needs(given, "units"), given["arms"], stream, **_some(given, "sizes")
    ),
    "latin": lambda given, stream: latin(
        _needs(given, "rows"), _needs(given, "columns"), given["arms"], stream
    ),
    "crossover": lambda given, stream: crossover(_needs(given, "units"), given["arms"], stream),
    "phases": lambda given, stream: phased(
        _needs(given, "units"),
        given["arms"],
        stream,
        sessions=int(_needs(given, "sessions")),
        **_some(given, "phases", "shortest"),
    ),
    "minimised": lambda given, stream: minimised(
        _needs(given, "levels"), given["arms"], stream, **_some(given, "share")
    ),
    "rerandomised": lambda given, stream: rerandomised(
        _needs(given, "covariates"), given["arms"], stream, **_some(given, "accept")
    ),
}
"""The name of each method in addresses, in the API and in a plan, and how it draws."""


def allocate(given: Given, stream: Stream) -> Allocation:
    """Draw an allocation by the method that is named.

    Parameters
    ----------
    given : mapping
        `method`, one of `METHODS`; `arms`; and what the method takes, by its parameters' names.
    stream : Stream

    Raises
    ------
    Unsound
        Where there is no such method, or what it takes is missing or out of range.

    Examples
    --------
    >>> asked = {"method": "complete", "arms": ["x", "y"], "units": ["a", "b"]}
    >>> allocate(asked, Stream(bytes(32))).counts
    {'x': 1, 'y': 1}
    """
    method = given.get("method", "")
    if method not in METHODS:
        bounds.refuse(
            "method",
            "There is no such method.",
            f"“{str(method)[:60]}” is none of: {', '.join(METHODS)}.",
            "Name one of these.",
        )
    return METHODS[method](given, stream)
