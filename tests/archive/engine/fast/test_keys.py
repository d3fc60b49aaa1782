"""Keys by digests: what stands twice is found, and what is in a set."""

import numpy as np
import pytest

from archive.engine.fast.keys import (
    DigestSet,
    compare_parts,
    contains,
    digest_of,
    fold,
    known_keys,
    repeated,
)

SEED = np.uint64(11)


def test_every_digest_that_stands_twice_is_found_and_no_other():
    draw = np.random.default_rng(20260301)
    for size in (0, 1, 2, 50, 5_000):
        digests = draw.integers(0, max(1, 3 * size), size).astype(np.uint64)
        values, counts = np.unique(digests, return_counts=True)
        twice = set(values[(counts > 1) & (values != 0)].tolist())
        expected = [at for at, digest in enumerate(digests.tolist()) if digest in twice]
        assert repeated(digests).tolist() == expected


def test_a_set_holds_what_was_put_in_and_nothing_else():
    draw = np.random.default_rng(20260301)
    inside = draw.integers(1, 2**63, 4_000).astype(np.uint64)
    outside = draw.integers(1, 2**63, 4_000).astype(np.uint64)
    known, out = DigestSet(inside), np.zeros(8_001, np.bool_)
    asked = np.concatenate([inside, outside, np.zeros(1, np.uint64)])
    contains(known.table, asked, len(asked), out)
    assert out[:4_000].all()
    assert not out[4_000:].any()


@pytest.mark.parametrize(
    ("needs_all", "expected"), [(False, [True, True, False]), (True, [True, False, False])]
)
def test_a_key_that_is_empty_has_no_digest_and_one_in_part_where_all_is_needed(needs_all, expected):
    digests = np.array([[5, 6], [5, 0], [0, 0]], np.uint64)
    out = np.zeros(3, np.uint64)
    fold(digests, 3, np.array([0, 1]), needs_all, out)
    assert (out != 0).tolist() == expected


def test_the_order_of_a_key_s_parts_matters():
    one, other = known_keys([("a", "b")], 2, SEED), known_keys([("b", "a")], 2, SEED)
    assert set(one.table.tolist()) != set(other.table.tolist())
    assert (one.table == known_keys([("a", "b")], 2, SEED).table).all()


def test_a_key_of_other_parts_is_not_taken_for_one_of_the_same_digest():
    known = known_keys([("a", "b"), ("c", "d")], 2, SEED)
    parts = [[digest_of(value, SEED) for value in key] for key in (("a", "b"), ("c", "x"))]
    (folded,) = known_keys([("c", "d")], 2, SEED).table.nonzero()
    rows = np.array(parts, np.uint64)
    digests = np.zeros(2, np.uint64)
    fold(rows, 2, np.array([0, 1]), False, digests)
    assert len(folded) == 1
    digests[1] = known_keys([("c", "d")], 2, SEED).table[folded[0]]
    held = np.ones(2, np.bool_)
    compare_parts(known.table, known.parts, digests, rows, np.array([0, 1]), 2, held)
    assert held.tolist() == [True, False]
