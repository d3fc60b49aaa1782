"""Tables of the code as Markdown, and their place between two marks of a document."""

from collections.abc import Iterable, Sequence
from pathlib import Path


def _cell(said: str) -> str:
    return said.replace("|", "\\|")


def markdown(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Give a table in Markdown; a bar inside a cell is escaped."""
    lines = [headings, ["---"] * len(headings), *rows]
    return "\n".join(f"| {' | '.join(map(_cell, line))} |" for line in lines)


def marks(name: str) -> tuple[str, str]:
    """Give the two marks between which a table stands."""
    return f"<!-- {name}: made by manage.py {name} -->", f"<!-- end of {name} -->"


def between(text: str, name: str) -> str:
    """Give what stands between the two marks.

    Raises
    ------
    ValueError
        When a mark is missing.
    """
    begin, end = marks(name)
    if begin not in text or end not in text:
        raise ValueError(f"the marks “{begin}” and “{end}” are not both there")
    return text.split(begin)[1].split(end, maxsplit=1)[0].strip("\n")


def put_between(path: Path, name: str, table: str) -> None:
    """Put a table between its two marks in a document."""
    text = path.read_text(encoding="utf-8")
    between(text, name)
    begin, end = marks(name)
    head, tail = text.split(begin)[0], text.split(end)[1]
    path.write_text(f"{head}{begin}\n{table}\n{end}{tail}", encoding="utf-8")
