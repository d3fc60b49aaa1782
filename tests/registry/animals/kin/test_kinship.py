"""Three ways to the same numbers: by table, by walks, and by dropping genes at random."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from registry.animals.kin import (
    Parents,
    Pedigree,
    inbreeding,
    kinship_among,
    kinship_matrix,
    mean_kinship,
)
from registry.animals.kin.inbreeding import draws


@st.composite
def pedigrees(draw, most=24):
    """Any pedigree: parents unknown, one known, both, or one animal as both."""
    born = {0: Parents(), 1: Parents()}
    for n in range(2, draw(st.integers(3, most))):
        elder = st.one_of(st.none(), st.integers(0, n - 1))
        born[n] = Parents(draw(elder), draw(elder))
    return Pedigree.of(born)


def whole(line):
    """The tabular matrix in full."""
    lower = np.zeros((len(line), len(line)))
    for place, row in enumerate(kinship_matrix(line)):
        lower[place, : place + 1] = row
    return lower + np.tril(lower, -1).T


def drop_genes(line, times, seed):
    """Give kinship as the share of draws in which one copy of each is the same founder's.

    Each founder has two copies of its own; each young draws one of either parent's two. MacCluer,
    J. W. et al. (1986), Zoo Biology 5:147-160. Seeded; the standard error is 0.5/sqrt(times).
    """
    chance = np.random.default_rng(seed)
    copies = np.empty((len(line), 2, times), dtype=np.int64)
    for place, parents in enumerate(zip(line.dams, line.sires, strict=True)):
        for side, parent in enumerate(parents):
            if parent < 0:
                copies[place, side] = 2 * place + side
            else:
                drawn = chance.integers(0, 2, times)
                copies[place, side] = copies[parent, drawn, np.arange(times)]
    found = np.empty((len(line), len(line)))
    for a in range(len(line)):
        for b in range(len(line)):
            same = [copies[a, i] == copies[b, j] for i in (0, 1) for j in (0, 1)]
            found[a, b] = np.mean(same)
    return found


@settings(max_examples=60, deadline=None)
@given(line=pedigrees())
def test_the_walks_give_what_the_table_gives(line):
    table = whole(line)
    by_walks = np.array(kinship_among(line, line.names))
    assert by_walks == pytest.approx(table, abs=1e-12)
    assert inbreeding(line) == pytest.approx(list(2 * np.diag(table) - 1), abs=1e-12)
    assert mean_kinship(line, line.names) == pytest.approx(list(table.mean(axis=1)), abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(line=pedigrees())
def test_the_matrix_is_positive_semidefinite_and_symmetric(line):
    table = whole(line)
    assert np.linalg.eigvalsh(2 * table).min() > -1e-10
    assert (table >= 0).all()
    # Each row of the sparse inverse holds a parent and a child at most; A times it is the identity.
    halves = np.eye(len(line))
    for place, parents in enumerate(zip(line.dams, line.sires, strict=True)):
        for parent in parents:
            if parent >= 0:
                halves[place, parent] -= 0.5
    inverse = halves.T @ np.diag(1 / np.array(draws(line, inbreeding(line)))) @ halves
    assert inverse @ (2 * table) == pytest.approx(np.eye(len(line)), abs=1e-8)


@settings(max_examples=15, deadline=None)
@given(line=pedigrees(most=12))
def test_genes_dropped_at_random_agree(line):
    # 20,000 draws: a standard error of at most 0.0036; five of them, over 144 pairs and 15 lines.
    dropped = drop_genes(line, times=20_000, seed=20261130)
    assert dropped == pytest.approx(whole(line), abs=0.018)


def test_a_chosen_few_of_many_are_asked_without_the_rest():
    born = {n: Parents(f"dam {n // 4}", f"sire {n // 8}") for n in range(4_000)}
    line = Pedigree.of(born)
    with pytest.raises(ValueError, match="3,000"):
        kinship_matrix(line)
    among = kinship_among(line, [0, 1, 4, 8])
    assert among == [
        [0.5, 0.25, 0.125, 0],
        [0.25, 0.5, 0.125, 0],
        [0.125, 0.125, 0.5, 0],
        [0, 0, 0, 0.5],
    ]


def test_an_unknown_parent_is_a_founder_of_its_own_and_never_shared():
    line = Pedigree.of({"a": Parents("ma"), "b": Parents("ma")})
    assert kinship_among(line, ["a", "b"])[0][1] == 0.125
    assert inbreeding(line) == [0, 0, 0]


def test_the_mean_kinship_of_nobody_is_refused():
    with pytest.raises(ValueError, match="nobody"):
        mean_kinship(Pedigree.of({"a": Parents()}), [])
