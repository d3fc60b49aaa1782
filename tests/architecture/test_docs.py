"""DEVELOPERS.md says what the code says."""

import ast
from pathlib import Path

import pytest

from registry.management.commands import lifecycles, permissions
from registry.permissions import TABLE
from registry.tables import between, markdown, put_between

ROOT = Path(__file__).resolve().parents[2]
DEVELOPERS = ROOT / "DEVELOPERS.md"
TABLES = {"permissions": permissions.table, "lifecycles": lifecycles.table}


@pytest.mark.parametrize("name", TABLES)
def test_the_table_stands_there_as_the_command_prints_it(name: str) -> None:
    told = between(DEVELOPERS.read_text(encoding="utf-8"), name)
    assert told == TABLES[name](), (
        f"DEVELOPERS.md is out of step: manage.py {name} --write DEVELOPERS.md"
    )


def test_the_table_of_permissions_has_a_line_for_each_row() -> None:
    assert len(permissions.table().splitlines()) == len(TABLE) + 2


def test_the_table_of_lifecycles_names_every_kind() -> None:
    told = lifecycles.table()
    assert len(lifecycles.lifecycles()) >= 11
    for one in lifecycles.lifecycles():
        assert f"| {one.kind} |" in told


def test_a_table_is_put_between_its_marks_and_nothing_else_changes(tmp_path: Path) -> None:
    document = tmp_path / "d.md"
    document.write_text(
        "before\n<!-- x: made by manage.py x -->\nold\n<!-- end of x -->\nafter\n",
        encoding="utf-8",
    )
    put_between(document, "x", markdown(("a", "b"), [("1|2", "3")]))
    text = document.read_text(encoding="utf-8")
    assert between(text, "x") == "| a | b |\n| --- | --- |\n| 1\\|2 | 3 |"
    assert text.startswith("before\n<!-- x")
    assert text.endswith("<!-- end of x -->\nafter\n")
    with pytest.raises(ValueError, match="not both there"):
        between(text, "y")


def test_the_places_that_the_document_names_are_there() -> None:
    """Each path in code marks that begins with a top folder of the project."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    named = {
        word.rstrip("/")
        for word in text.replace("\n", " ").split("`")[1::2]
        if word.startswith(("registry/", "archive/", "tests/", "fixtures/", ".ci/"))
        and "<" not in word
        and "*" not in word
    }
    assert len(named) > 15
    missing = sorted(path for path in named if not (ROOT / path).exists())
    assert missing == []


def test_each_test_that_the_document_names_is_there() -> None:
    """A test is named by its file and itself: `test_docs::test_the_table_stands_there…`."""
    text = DEVELOPERS.read_text(encoding="utf-8")
    named = {word for word in text.split("`")[1::2] if word.startswith("test_") and "::" in word}
    there = {
        f"{path.stem}::{node.name}"
        for path in (ROOT / "tests").rglob("test_*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef)
    }
    assert len(named) > 30
    assert named - there == set()
