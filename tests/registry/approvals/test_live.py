"""On which days an approval is live: table cases."""

from datetime import UTC, date, datetime

import pytest

from registry.approvals.live import (
    ApprovalFacts,
    Days,
    PauseFacts,
    each_day,
    live_days,
    live_on,
    merged,
    why_not,
)


def d(month: int, day: int) -> date:
    return date(2026, month, day)


def at(month: int, day: int) -> datetime:
    return datetime(2026, month, day, 12, tzinfo=UTC)


# Granted on Monday 2 March, to hold from the 1st to the 31st.
MARCH = ApprovalFacts(granted_on=d(3, 2), starts_on=d(3, 1), ends_on=d(3, 31))


def with_(**more: object) -> ApprovalFacts:
    told = {name: getattr(MARCH, name) for name in ApprovalFacts.__dataclass_fields__}
    return ApprovalFacts(**{**told, **more})  # type: ignore[arg-type]


STEPWISE = with_(pauses=(PauseFacts(d(3, 10), d(3, 12), at(3, 10), at(3, 12)),))


@pytest.mark.parametrize(
    ("facts", "day", "is_live"),
    [
        (MARCH, d(3, 1), False),  # begun, but not yet granted
        (MARCH, d(3, 2), True),  # the day of the decision
        (MARCH, d(3, 31), True),  # the last day
        (MARCH, d(4, 1), False),  # run out
        (with_(granted_on=d(2, 20)), d(2, 28), False),  # granted, not yet begun
        (with_(granted_on=d(2, 20)), d(3, 1), True),  # the first day
        (with_(granted_on=None), d(3, 10), False),  # never granted
        (with_(weekdays="12345"), d(3, 6), True),  # a Friday
        (with_(weekdays="12345"), d(3, 7), False),  # a Saturday
        (with_(superseded_on=d(3, 15)), d(3, 14), True),
        (with_(superseded_on=d(3, 15)), d(3, 15), False),  # the amendment's first day
        (with_(ended_on=d(3, 15)), d(3, 14), True),
        (with_(ended_on=d(3, 15)), d(3, 15), False),  # the day of the withdrawal
        (with_(pauses=(PauseFacts(d(3, 10), d(3, 12)),)), d(3, 9), True),
        (with_(pauses=(PauseFacts(d(3, 10), d(3, 12)),)), d(3, 10), False),
        (with_(pauses=(PauseFacts(d(3, 10), d(3, 12)),)), d(3, 11), False),
        (with_(pauses=(PauseFacts(d(3, 10), d(3, 12)),)), d(3, 12), True),  # in force again
        (with_(pauses=(PauseFacts(d(3, 10)),)), d(3, 31), False),  # it lasts
        (with_(pauses=(PauseFacts(d(3, 10), d(3, 10)),)), d(3, 10), True),  # ended the same day
    ],
)
def test_a_day_is_live_or_not(facts: ApprovalFacts, day: date, is_live: bool) -> None:
    assert live_on(facts, day) is is_live
    assert bool(why_not(facts, day)) is not is_live


def test_the_intervals_agree_with_the_days_one_by_one() -> None:
    facts = with_(
        pauses=(PauseFacts(d(3, 5), d(3, 8)), PauseFacts(d(3, 7), d(3, 9)), PauseFacts(d(3, 20))),
        superseded_on=d(3, 29),
    )
    runs = live_days(facts)
    assert runs == (Days(d(3, 2), d(3, 4)), Days(d(3, 9), d(3, 19)))
    every = each_day(d(2, 20), d(4, 10))
    assert [day for day in every if live_on(facts, day)] == [
        day for run in runs for day in each_day(run.first, run.last)
    ]


def test_two_suspensions_in_a_row_leave_the_day_between_them() -> None:
    facts = with_(pauses=(PauseFacts(d(3, 5), d(3, 8)), PauseFacts(d(3, 9), d(3, 12))))
    assert Days(d(3, 8), d(3, 8)) in live_days(facts)


@pytest.mark.parametrize(
    ("facts", "day", "known_by", "is_live"),
    [
        # Granted on the 2nd: before that nobody knew.
        (with_(granted_at=at(3, 2)), d(3, 2), at(3, 1), False),
        (with_(granted_at=at(3, 2)), d(3, 2), at(3, 2), True),
        # Withdrawn on the 15th: on the 14th it was still expected to hold on the 20th.
        (with_(ended_on=d(3, 15), ended_recorded_at=at(3, 15)), d(3, 20), at(3, 14), True),
        (with_(ended_on=d(3, 15), ended_recorded_at=at(3, 15)), d(3, 20), at(3, 16), False),
        (
            with_(superseded_on=d(3, 15), superseded_recorded_at=at(3, 9)),
            d(3, 20),
            at(3, 8),
            True,
        ),
        (
            with_(superseded_on=d(3, 15), superseded_recorded_at=at(3, 9)),
            d(3, 20),
            at(3, 10),
            False,
        ),
        # Suspended from the 10th, reinstated on the 12th: known step by step.
        (STEPWISE, d(3, 20), at(3, 9), True),
        (STEPWISE, d(3, 20), at(3, 11), False),
        (STEPWISE, d(3, 20), at(3, 13), True),
    ],
)
def test_what_was_recorded_later_was_not_known(
    facts: ApprovalFacts, day: date, known_by: datetime, is_live: bool
) -> None:
    assert live_on(facts, day, known_by) is is_live


def test_why_an_approval_is_not_live_is_said() -> None:
    assert "ended" in why_not(with_(ended_on=d(3, 15)), d(3, 20))
    assert "amendment" in why_not(with_(superseded_on=d(3, 15)), d(3, 20))
    assert "ran out" in why_not(MARCH, d(4, 1))
    assert "suspended" in why_not(with_(pauses=(PauseFacts(d(3, 10)),)), d(3, 20))
    assert "granted on" in why_not(MARCH, d(3, 1))


def test_days_are_merged_into_the_fewest_runs() -> None:
    assert merged([]) == ()
    assert merged([d(2, 28), d(3, 1), d(3, 1), d(3, 3)]) == (
        Days(d(2, 28), d(3, 1)),
        Days(d(3, 3), d(3, 3)),
    )
