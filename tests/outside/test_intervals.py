"""Intervals between scans against published rules; the source stands beside each check."""

import pytest

from registry.design import independent_after, one_zero_share

pytestmark = pytest.mark.outside


def test_the_rule_of_independence() -> None:
    # Bernstein (1991), as a summary at what-when-how.com gives it: mean 40 s, SD 30 s.
    assert independent_after(40, 30) == pytest.approx(98.8)


def test_one_zero_recording_over_estimates() -> None:
    # Altmann (1974): one-zero over-estimates time. Project's notes: .724 where the share is .25 and
    # the interval is the mean gap (their own simulation .722).
    assert one_zero_share(0.25, 180, 180) == pytest.approx(0.724, abs=0.0005)
