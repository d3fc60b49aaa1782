"""Kinship held against published tables.

Sources: Falconer, D. S. & Mackay, T. F. C. (1996), Introduction to Quantitative Genetics, 4th ed.,
table 5.1 and chapter 9; Henderson, C. R. (1976), Biometrics 32:69-83, with the six-animal example
as Mrode, R. A. & Thompson, R. (2005), Linear Models for the Prediction of Animal Breeding Values,
2nd ed., p. 26 prints it; Wright, S. (1931), Genetics 16:97-159. The printed values are from memory,
and confirmed by three methods that agree (tests/registry/animals/kin).
"""

import pytest

from registry.animals.kin import (
    Parents,
    Pedigree,
    effective_breeders,
    effective_size,
    inbreeding,
    kinship_among,
    kinship_matrix,
    mean_kinship,
)
from registry.animals.kin.inbreeding import draws

pytestmark = pytest.mark.outside

HENDERSON = {
    1: Parents(),
    2: Parents(),
    3: Parents(sire=1, dam=2),
    4: Parents(sire=1),
    5: Parents(sire=4, dam=3),
    6: Parents(sire=5, dam=2),
}
PRINTED = [
    [1, 0, 0.5, 0.5, 0.5, 0.25],
    [0, 1, 0.5, 0, 0.25, 0.625],
    [0.5, 0.5, 1, 0.25, 0.625, 0.5625],
    [0.5, 0, 0.25, 1, 0.625, 0.3125],
    [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
    [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
]


def test_hendersons_six_animals():
    line = Pedigree.of(HENDERSON)
    related = [[2 * value for value in row] for row in kinship_among(line, range(1, 7))]
    assert related == PRINTED
    inbred = dict(zip(line.names, inbreeding(line), strict=True))
    assert [inbred[n] for n in range(1, 7)] == [0, 0, 0, 0, 0.125, 0.125]


def test_the_diagonal_of_hendersons_inverse():
    # A^-1 holds 1/d of an animal, and a quarter of 1/d of each of its young.
    line = Pedigree.of(HENDERSON)
    own = dict(zip(line.names, [1 / one for one in draws(line, inbreeding(line))], strict=True))
    young = {n: [k for k, p in HENDERSON.items() if n in {p.dam, p.sire}] for n in HENDERSON}
    diagonal = [own[n] + sum(own[k] for k in young[n]) / 4 for n in range(1, 7)]
    assert diagonal == pytest.approx([1.833, 2.033, 2.5, 1.833, 2.533, 2.133], abs=5e-4)


def test_kinship_of_near_relatives():
    line = Pedigree.of(
        {
            "full": Parents("ma", "pa"),
            "sister": Parents("ma", "pa"),
            "half": Parents("ma", "other"),
            "cousin": Parents("sister", "stranger"),
            "child": Parents("full", "nobody"),
        }
    )

    def kin(one, other):
        return kinship_among(line, [one, other])[0][1]

    assert kin("full", "sister") == 0.25
    assert kin("full", "half") == 0.125
    assert kin("full", "ma") == 0.25
    assert kin("cousin", "full") == 0.125  # aunt and niece
    assert kin("cousin", "child") == 0.0625


def test_repeated_full_sib_mating():
    born, pair = {}, ("ma", "pa")
    for time in range(10):
        born[time, "f"] = born[time, "m"] = Parents(*pair)
        pair = (time, "f"), (time, "m")
    line = Pedigree.of(born)
    inbred = inbreeding(line)
    series = [inbred[line.places[time, "f"]] for time in range(10)]
    printed = [0, 0.25, 0.375, 0.5, 0.594, 0.672, 0.734, 0.785, 0.826, 0.859]
    assert series == pytest.approx(printed, abs=5e-4)


def test_repeated_half_sib_mating():
    # One sire with his half sisters, each of them of a dam of her own; the next sire is one of
    # their young, so each generation is smaller by one.
    born, dams, sire = {}, [("dam", n) for n in range(8)], "sire"
    for time in range(6):
        for n, dam in enumerate(dams):
            born[time, n] = Parents(dam, sire)
        *dams, sire = [(time, n) for n in range(len(dams))]
    line = Pedigree.of(born)
    inbred = inbreeding(line)
    series = [inbred[line.places[time, 0]] for time in range(6)]
    assert series == pytest.approx([0, 0.125, 0.219, 0.305, 0.381, 0.449], abs=5e-4)


def test_selfing():
    line = Pedigree.of({n: Parents(n - 1, n - 1) for n in (1, 2, 3)})
    inbred = inbreeding(line)
    assert [inbred[line.places[n]] for n in (1, 2, 3)] == [0.5, 0.75, 0.875]


def test_effective_number_of_breeders():
    assert effective_breeders(2, 6) == 6.0
    assert effective_breeders(5, 5) == 10.0
    assert effective_breeders(1, 9_999) == pytest.approx(4, abs=0.001)
    assert 1 / (2 * effective_breeders(2, 6)) == pytest.approx(0.083, abs=5e-4)


def test_mean_kinship_of_two_full_sibs_and_the_diversity_they_keep():
    # Lacy, R. C. (1989), Zoo Biology 8:111-123, by its definitions: GD 0.625.
    line = Pedigree.of({"a": Parents("ma", "pa"), "b": Parents("ma", "pa")})
    means = mean_kinship(line, ["a", "b"])
    assert means == [0.375, 0.375]
    assert 1 - sum(means) / 2 == 0.625


@pytest.mark.parametrize(("heritability", "worth"), [(1, 1.71), (0.4, 3.0), (0, 6)])
def test_six_full_sibs_are_worth_fewer(heritability, worth):
    # Kish (1965): n / (1 + (n - 1) rho), rho = 2 K h2.
    line = Pedigree.of({n: Parents("ma", "pa") for n in range(6)})
    size = effective_size(kinship_among(line, range(6)), heritability)
    assert size == pytest.approx(worth, abs=5e-3)
    assert size == pytest.approx(6 / (1 + 5 * 0.5 * heritability), rel=1e-12)


def test_the_tabular_matrix_is_hendersons_too():
    line = Pedigree.of(HENDERSON)
    rows = kinship_matrix(line)
    place = [line.places[n] for n in range(1, 7)]
    assert [[2 * rows[max(a, b)][min(a, b)] for b in place] for a in place] == PRINTED
