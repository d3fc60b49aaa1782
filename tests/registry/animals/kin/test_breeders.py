import numpy as np
import pytest

from registry.animals.kin import effective_breeders, effective_size


def test_one_sex_alone_breeds_nothing():
    assert effective_breeders(0, 7) == 0
    assert effective_breeders(7, 0) == 0
    with pytest.raises(ValueError, match="from 0"):
        effective_breeders(-1, 7)


def test_the_effective_size_is_the_sum_of_the_inverse():
    # Any positive definite set: numpy's own inverse as the reference.
    chance = np.random.default_rng(4)
    drawn = chance.normal(size=(9, 30))
    kin = drawn @ drawn.T / 60
    value = effective_size(kin.tolist(), 0.35)
    assert value == pytest.approx(np.linalg.inv(0.7 * kin + 0.65 * np.eye(9)).sum(), rel=1e-12)


def test_unrelated_animals_are_worth_their_number_and_an_empty_set_nothing():
    founders = [[0.5 if i == j else 0 for j in range(7)] for i in range(7)]
    assert effective_size(founders, 0.4) == pytest.approx(7)
    assert effective_size([], 0.4) == 0


def test_what_has_no_answer_is_refused():
    copies = [[0.5, 0.5], [0.5, 0.5]]
    assert effective_size(copies, 0.999) == pytest.approx(1, abs=0.001)
    with pytest.raises(ValueError, match="copies"):
        effective_size(copies, 1)
    with pytest.raises(ValueError, match="between 0 and 1"):
        effective_size(copies, 1.1)
    with pytest.raises(ValueError, match="1,000"):
        effective_size([[0.5]] * 1_001, 0.4)
