"""What a recording rule can give. Source: Altmann (1974), Behaviour 49, 227–267 (from memory)."""

import doctest

import pytest

from registry.design import recording
from registry.design.recording import Summary, may_give, recording_caution
from registry.projects.models import RecordingRule, SamplingRule


@pytest.mark.parametrize(
    ("sampling", "rule", "valid"),
    [
        (
            "focal",
            "continuous",
            {
                Summary.FREQUENCY,
                Summary.DURATION,
                Summary.LATENCY,
                Summary.BOUTS,
                Summary.SHARE_OF_TIME,
            },
        ),
        ("focal", "instantaneous", {Summary.SHARE_OF_POINTS}),
        ("scan", "instantaneous", {Summary.SHARE_OF_POINTS}),
        ("focal", "one_zero", {Summary.SHARE_OF_INTERVALS}),
        ("ad_libitum", "continuous", set()),
        ("ad_libitum", "one_zero", set()),
        ("behaviour", "continuous", {Summary.FREQUENCY}),
        ("measured", "not_behaviour", set()),
        ("", "", set()),
    ],
)
def test_a_rule_gives_its_own_summaries_alone(sampling: str, rule: str, valid: set) -> None:
    assert may_give(sampling, rule) == valid


@pytest.mark.parametrize(
    ("sampling", "rule", "said"),
    [
        ("focal", "one_zero", "over-estimates duration"),
        ("scan", "instantaneous", "no frequency"),
        ("ad_libitum", "continuous", "no rates and no time budgets"),
        ("scan", "continuous", "cannot be recorded continuously"),
        ("behaviour", "continuous", "not a time budget"),
    ],
)
def test_what_cannot_be_given_is_said(sampling: str, rule: str, said: str) -> None:
    assert said in recording_caution(sampling, rule)


def test_nothing_is_said_where_all_is_well() -> None:
    assert recording_caution("focal", "continuous") == ""
    assert recording_caution("measured", "not_behaviour") == ""
    assert recording_caution("", "") == ""


def test_the_matrix_knows_each_rule_that_a_plan_may_choose() -> None:
    assert set(recording.VALID) == set(RecordingRule.values)
    for sampling in SamplingRule.values:
        for rule in RecordingRule.values:
            assert may_give(sampling, rule) <= set(Summary)


def test_the_examples_run() -> None:
    assert doctest.testmod(recording).failed == 0
