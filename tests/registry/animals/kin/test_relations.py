import pytest

from registry.animals.kin import Parents, Pedigree, Relation, relation

LINE = Pedigree.of(
    {
        "a": Parents("ma", "pa"),
        "b": Parents("ma", "pa"),
        "half": Parents("ma", "other"),
        "one": Parents("ma"),
        "young": Parents("a", "stranger"),
    }
)


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        ("a", "ma", Relation.PARENT),
        ("ma", "a", Relation.YOUNG),
        ("a", "b", Relation.FULL_SIB),
        ("a", "half", Relation.HALF_SIB),
        ("a", "one", Relation.HALF_SIB),
        ("one", "half", Relation.HALF_SIB),
        ("young", "pa", Relation.GRANDPARENT),
        ("pa", "young", Relation.GRANDYOUNG),
        ("young", "b", Relation.OTHER),
        ("ma", "pa", Relation.OTHER),
    ],
)
def test_two_animals_are_called_by_the_nearest_word(first, second, said):
    assert relation(LINE, first, second) == said
