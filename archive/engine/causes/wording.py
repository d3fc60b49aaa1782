"""Small pieces of the causes' sentences."""

import re
from collections.abc import Iterable, Sequence

ROWS = 20


def listed(values: Iterable[str], most: int = 3) -> str:
    """Name the first few values.

    >>> listed(["a", "b", "c", "d"])
    '“a”, “b”, “c” and 1 more'
    """
    given = list(values)
    said = ", ".join(f"“{value[:60]}”" for value in given[:most])
    return f"{said} and {len(given) - most} more" if len(given) > most else said


def shown_rows(rows: Sequence[int]) -> tuple[int, ...]:
    """Give the first rows, each once."""
    return tuple(sorted(set(rows))[:ROWS])


def folded(text: str) -> str:
    """Give a name without capitals, spaces, hyphens and underscores.

    >>> folded(" Seen-On ") == folded("seen_on")
    True
    """
    return re.sub(r"[\W_]+", "", text).casefold()


def spaced(text: str) -> str:
    """Give a code without capitals and spaces; its other signs tell codes apart.

    >>> spaced("ce -07") == spaced("CE-07"), spaced("CE-07") == spaced("CE07")
    (True, False)
    """
    return re.sub(r"[\s\u200b\ufeff]+", "", text).casefold()


def count_of(number: int, one: str, many: str = "") -> str:
    """Say how many.

    >>> count_of(1, "cell"), count_of(1200, "cell")
    ('1 cell', '1,200 cells')
    """
    return f"{number:,} {one if number == 1 else many or f'{one}s'}"
