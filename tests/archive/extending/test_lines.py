"""Rules written one a line, read again, and refused with the number of their line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.extending.lines import FORMS, read, written
from archive.extending.rules import Convert, Derive, Recode, Rename, Split
from registry.errors import Unsound

letters = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"])
names = st.text(letters, min_size=1, max_size=12)
pairs = st.lists(st.tuples(names, names), min_size=1, max_size=4, unique_by=lambda pair: pair[0])
columns = st.lists(names, min_size=2, max_size=4, unique=True)
rules = st.one_of(
    st.builds(Rename, names, names),
    st.builds(Convert, names, st.just("m"), st.sampled_from(["cm", "km"])),
    st.builds(Recode, names, pairs.map(tuple)),
    st.builds(Split, names, columns.map(tuple), names),
    st.builds(Derive, names, st.just("(a - b) / 2")),
)


@given(st.lists(rules, max_size=5))
def test_what_is_written_is_read_back_as_it_was(some: list[Rename]) -> None:
    assert list(read(written(some))) == some


def test_each_example_is_a_rule_of_its_own_kind() -> None:
    assert [type(rule) for rule in read("\n\n".join(FORMS))] == [
        Rename,
        Convert,
        Recode,
        Split,
        Derive,
    ]
    assert written(read("\n".join(FORMS))) == "\n".join(FORMS)


@pytest.mark.parametrize(
    "line",
    [
        "delete depth",
        "rename depth",
        "rename depth to",
        'rename "depth to cm',
        "recode posture REST to R",
        "recode posture: REST R",
        "recode posture: REST to R,",
        "split sex at into a, b",
        "derive rate",
        "derive rate = import_it()",
        "convert depth from m to kg",
        "convert depth from m to nothing_at_all",
        "rename , to :",
    ],
)
def test_what_is_no_rule_is_refused_by_the_number_of_its_line(line: str) -> None:
    assert read("rename a to b")
    with pytest.raises(Unsound, match="Line 3: "):
        read(f"rename a to b\n\n{line}")
