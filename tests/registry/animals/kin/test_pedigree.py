import pytest

from registry.animals.kin.pedigree import NONE, Parents, Pedigree, own_ancestors
from registry.errors import Unsound


def test_every_parent_stands_before_its_young_whatever_the_order_given():
    line = Pedigree.of({"pup": Parents("dam", "sire"), "dam": Parents("granny"), "sire": Parents()})
    for dam, sire, place in zip(line.dams, line.sires, range(len(line)), strict=True):
        assert dam < place
        assert sire < place
    assert set(line.names) == {"pup", "dam", "sire", "granny"}
    assert line.sires[line.places["dam"]] == NONE


def test_an_animal_that_is_its_own_ancestor_is_refused_with_its_loop():
    born = {"a": Parents(dam="b"), "b": Parents(sire="c"), "c": Parents(dam="a")}
    with pytest.raises(Unsound) as refused:
        Pedigree.of(born)
    assert str(refused.value.what) == "a cannot be its own ancestor."
    assert "a, a child of b, a child of c, a child of a" in refused.value.why
    # The same line with the last parent taken away is no loop.
    assert len(Pedigree.of({**born, "c": Parents()})) == 3


def test_its_own_parent_is_the_shortest_loop():
    with pytest.raises(Unsound, match="own ancestor"):
        Pedigree.of({"a": Parents(dam="a")})


def test_a_line_of_thousands_of_generations_does_not_exhaust_the_stack():
    line = Pedigree.of({n: Parents(dam=n - 1) for n in range(20_000, 0, -1)})
    assert line.names == tuple(range(20_001))


def test_the_part_that_some_come_from_leaves_the_others_out():
    line = Pedigree.of({"pup": Parents("dam", "sire"), "other": Parents("dam"), "far": Parents()})
    part = line.down_to(["pup"])
    assert set(part.names) == {"pup", "dam", "sire"}
    assert part.names[part.dams[part.places["pup"]]] == "dam"
    with pytest.raises(KeyError):
        line.down_to(["nobody"])


def test_those_on_a_circle_are_told_apart_from_those_above_and_below_it():
    born = {
        "above": Parents(),
        "a": Parents("c", "above"),
        "b": Parents("a"),
        "c": Parents("b", "stranger"),
        "below": Parents("c"),
        "self": Parents("self"),
    }
    assert own_ancestors(born) == ["a", "b", "c", "self"]
    assert own_ancestors({**born, "c": Parents(), "self": Parents()}) == []
