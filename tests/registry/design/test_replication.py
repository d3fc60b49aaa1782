"""What is replicated: units, not animals. Source beside each check."""

import doctest

from registry.design import replication
from registry.design.replication import Treatment, replication_cautions


def words(*treatments: Treatment) -> list[str]:
    return [one.word for one in replication_cautions(treatments)]


def test_one_unit_a_treatment_is_pseudoreplicated_whatever_the_animals() -> None:
    # Hurlbert (1984), Ecological Monographs 54, 187–211: simple pseudoreplication.
    assert "pseudoreplicated" in words(Treatment("brisk", 1, 40), Treatment("still", 1, 40))
    assert "pseudoreplicated" in words(Treatment("brisk", 1, 1))
    assert "pseudoreplicated" not in words(Treatment("brisk", 2, 40), Treatment("still", 2, 40))


def test_animals_that_share_a_unit_do_not_count_as_units() -> None:
    # Lazic et al. (2018), PLoS Biology 16, e2005282: the sample size is the number of units.
    found = replication_cautions([Treatment("still", 4, 12), Treatment("brisk", 4, 12)])
    assert [one.word for one in found] == ["units, not animals"]
    assert "24 animals in 8 experimental units count as 8" in found[0].said
    assert words(Treatment("still", 4, 4)) == []


def test_each_caution_names_its_source() -> None:
    found = replication_cautions([Treatment("brisk", 1, 12)])
    assert all("Hurlbert" in one.source and "Lazic" in one.source for one in found)


def test_a_plan_without_treatments_has_no_caution() -> None:
    assert replication_cautions([]) == ()


def test_the_examples_run() -> None:
    assert doctest.testmod(replication).failed == 0
