import pytest
from scipy.stats import binomtest

from registry.animals.hatching import wilson


@pytest.mark.outside
@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_newcombes_four_cases(successes, trials, low, high):
    # Newcombe, R. G. (1998), Stat. Med. 17:857-872, table I, method 3: from memory, and the same
    # as scipy's own.
    share = wilson(successes, trials)
    assert (share.low, share.high) == pytest.approx((low, high), abs=5e-5)
    other = binomtest(successes, trials).proportion_ci(0.95, method="wilson")
    assert (share.low, share.high) == pytest.approx((other.low, other.high), abs=1e-12)


def test_all_and_none_keep_within_their_bounds():
    assert wilson(24, 24).high == 1
    assert wilson(0, 24).low == 0
    assert wilson(18, 24).value == 0.75
    assert wilson(18, 24, confidence=0.8).low > wilson(18, 24).low


@pytest.mark.parametrize(("successes", "trials"), [(0, 0), (3, 2), (-1, 2)])
def test_what_is_no_share_is_refused(successes, trials):
    with pytest.raises(ValueError, match="trials"):
        wilson(successes, trials)
