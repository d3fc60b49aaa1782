"""Same as last time: what fits is done again, what does not is refused with what is different."""

from pathlib import Path

import pytest

from archive.engine.intake import Recipe, convert, propose
from archive.engine.intake.building import recipe_of
from archive.engine.intake.converting import convert_here
from archive.engine.intake.proposing import look
from archive.engine.limits import Limits
from registry.errors import Unsound
from tests.archive.engine.intake.making import PLAIN, book, cells, laid, table

LIMITS = Limits()
DRESSED = "Scans, autumn\n" + PLAIN.replace(",", ";").replace(".", ",")


def recipe_for(folder: Path, text: str = DRESSED) -> Recipe:
    path = laid(folder, "last.csv", text.encode())
    return recipe_of(look(path, "last.csv", table(), None, {}, LIMITS), {})


def test_a_recipe_is_repeated_on_next_years_file_in_a_child(tmp_path: Path) -> None:
    last = recipe_for(tmp_path)
    path = laid(tmp_path, "next.csv", DRESSED.replace("R-0", "R-1").encode())
    made = propose(path, "next.csv", table(), last)
    assert made.changes == ()
    assert not made.asked
    assert all("As last time." in one.reason for one in made.decisions if one.key != "quote")
    done = convert(path, recipe_of(made, {}), tmp_path / "out")
    assert (tmp_path / "out").read_text(encoding="utf-8") == PLAIN.replace("R-0", "R-1")
    assert done.source_row(2) == 3


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda text: text.replace("posture", "stance"), "“posture” is now named “stance”"),
        (lambda text: text.replace(";depth", ";depth;x").replace("1,5", "1,5;9"), "“x” is new"),
        (
            lambda text: "".join(
                line.rpartition(";")[0] + "\n" if ";" in line else f"{line}\n"
                for line in text.splitlines()
            ),
            "“depth” is missing",
        ),
        (lambda text: text.replace(";", ","), "none of “ray”, “seen_on”"),
        (lambda text: text.replace("Scans, autumn\n", ""), "they stand in row 1 now"),
        (lambda text: text.replace("REST;1,5", "REST;1,5;7"), "Row 3 has something in column 5"),
    ],
    ids=["renamed", "new", "missing", "another delimiter", "no title", "a longer row"],
)
def test_a_file_that_no_longer_fits_is_refused_in_words(change, said, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]  # why: lambdas
    last = recipe_for(tmp_path)
    path = laid(tmp_path, "next.csv", change(DRESSED).encode())
    with pytest.raises(Unsound) as caught:
        convert(path, last, tmp_path / "out")
    assert said in caught.value.why
    assert caught.value.next
    assert not (tmp_path / "out").exists()


def test_columns_in_another_order_still_fit(tmp_path: Path) -> None:
    last = recipe_for(tmp_path)
    turned = "Scans, autumn\n" + "".join(
        ";".join(reversed(line.split(";"))) + "\n" for line in DRESSED.splitlines()[1:]
    )
    path = laid(tmp_path, "next.csv", turned.encode())
    convert_here(path, last, tmp_path / "out", LIMITS)
    assert (tmp_path / "out").read_text(encoding="utf-8") == PLAIN


def test_a_renamed_column_is_told_and_asked_on_the_page(tmp_path: Path) -> None:
    last = recipe_for(tmp_path)
    path = laid(tmp_path, "next.csv", DRESSED.replace("depth", "zzz").encode())
    made = look(path, "next.csv", table(), last, {}, LIMITS)
    assert any("“depth” is now named “zzz”" in one for one in made.changes)
    assert made.decision("column:3").is_asked


def test_another_name_of_the_sheet_is_refused_and_told(tmp_path: Path) -> None:
    rows = [line.split(",") for line in PLAIN.splitlines()]
    path = laid(tmp_path, "a.xlsx", book(cells(rows)))
    last = recipe_of(look(path, "a.xlsx", table(), None, {}, LIMITS), {})
    assert last.sheet == "Scans"
    changed = Recipe.from_json(last.as_json().replace('"Scans"', '"Autumn"'))
    with pytest.raises(Unsound) as caught:
        convert_here(path, changed, tmp_path / "out", LIMITS)
    assert "“Autumn”" in caught.value.why
    assert any(
        "Autumn" in one for one in look(path, "a.xlsx", table(), changed, {}, LIMITS).changes
    )


def test_bytes_that_are_no_longer_of_the_encoding_are_refused(tmp_path: Path) -> None:
    last = recipe_for(tmp_path)
    path = laid(tmp_path, "next.csv", DRESSED.replace("R-01", "Zoé").encode("cp1252"))
    with pytest.raises(Unsound) as caught:
        convert(path, last, tmp_path / "out")
    assert "UTF-8" in caught.value.why


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", "{", '{"version": 2}', '{"version": 1, "columns": 3}'],
)
def test_what_is_no_recipe_is_refused(text: str) -> None:
    with pytest.raises(Unsound):
        Recipe.from_json(text)


def test_a_recipe_with_a_part_of_another_type_is_refused(tmp_path: Path) -> None:
    text = recipe_for(tmp_path).as_json()
    for wrong in (
        text.replace('"header_first": 2', '"header_first": "2"'),
        text.replace('"position": 0', '"position": -1'),
        text.replace('"end": "all"', '"end": null'),
        text.replace('"table"', '"tabel"'),
    ):
        assert wrong != text
        with pytest.raises(Unsound):
            Recipe.from_json(wrong)


def test_two_columns_may_not_be_one_field(tmp_path: Path) -> None:
    path = laid(tmp_path, "scans.csv", PLAIN.encode())
    made = look(path, "scans.csv", table(), None, {}, LIMITS)
    with pytest.raises(Unsound) as caught:
        recipe_of(made, {"column:0": "field depth"})
    assert set(caught.value.fields) == {"column:0", "column:3"}


def test_without_a_dictionary_columns_keep_their_names(tmp_path: Path) -> None:
    path = laid(tmp_path, "other.csv", b"Ray;Depth\nR-01;1,5\n")
    made = look(path, "other.csv", None, None, {}, LIMITS)
    assert made.table == "other"
    assert not made.asked
    convert_here(path, recipe_of(made, {}), tmp_path / "out", LIMITS)
    assert (tmp_path / "out").read_text(encoding="utf-8") == "Ray,Depth\nR-01,1.5\n"
