"""Counting, without a database."""

import doctest
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.oversight.counting import (
    AsOf,
    EnrolmentRow,
    Kind,
    Subject,
    UseRow,
    UseSum,
    contacts_of,
    distinct_animals,
    is_below,
    is_live,
    least_severity,
    line_use,
    line_use_of_sums,
    loads,
    places_taken,
    recent_contacts,
    rows,
    severity,
    standing,
    sums,
)

DAY = date(2026, 3, 1)
AT = datetime(2026, 3, 1, 9, tzinfo=UTC)
RAY, SHOAL = Subject("animal", 1), Subject("group", 1)
KIND = Kind(2, "adult")


def use(number: int, **more: object) -> UseRow:
    given: dict[str, object] = {
        "project": 4,
        "subject": RAY,
        "kind": KIND,
        "animals": 1,
        "procedure": 5,
        "is_contact": True,
        "happened_on": DAY,
        "recorded_at": AT,
        **more,
    }
    return UseRow(number, **given)  # type: ignore[arg-type]


def enrolment(number: int, **more: object) -> EnrolmentRow:
    given: dict[str, object] = {
        "project": 4,
        "subject": RAY,
        "kind": KIND,
        "animals": 1,
        "procedures": frozenset({5}),
        "from_on": DAY,
        "recorded_at": AT,
        **more,
    }
    return EnrolmentRow(number, **given)  # type: ignore[arg-type]


def test_the_examples_in_the_docstrings_hold() -> None:
    assert not sum(doctest.testmod(one).failed for one in (rows, sums, severity))


def test_an_animal_counts_once_in_however_many_projects() -> None:
    enrolments = [enrolment(1), enrolment(2, project=9)]
    uses = [use(1), use(2, project=9), use(3, subject=Subject("animal", 2))]
    assert distinct_animals(enrolments, uses) == 2
    assert contacts_of(uses) == {RAY: 2, Subject("animal", 2): 1}


def test_members_of_a_group_are_counted_on_the_cautious_side() -> None:
    enrolments = [enrolment(1, subject=SHOAL, animals=10), enrolment(2, subject=SHOAL, animals=5)]
    assert distinct_animals(enrolments, []) == 15
    bigger = use(1, subject=SHOAL, animals=12, enrolment=1)
    assert distinct_animals(enrolments, [bigger]) == 17
    again = use(2, subject=SHOAL, animals=8, enrolment=1)
    assert distinct_animals(enrolments, [bigger, again]) == 17
    stray = [use(n, subject=SHOAL, animals=n) for n in (3, 4)]
    assert distinct_animals(enrolments, stray) == 15 + 4
    assert contacts_of([bigger, again]) == {SHOAL: 2}


def test_a_place_stays_taken_when_the_animal_left() -> None:
    left = enrolment(1, left_on=DAY, left_recorded_at=AT)
    later = AsOf(DAY + timedelta(days=30))
    assert not is_live(left, later)
    assert is_live(left, AsOf(DAY))
    assert distinct_animals([left], [], later) == 1


def test_an_end_that_is_not_known_yet_is_no_end() -> None:
    left = enrolment(1, left_on=DAY, left_recorded_at=AT + timedelta(days=5))
    after = DAY + timedelta(days=2)
    assert is_live(left, AsOf(after, AT + timedelta(days=4)))
    assert not is_live(left, AsOf(after, AT + timedelta(days=5)))
    with pytest.raises(ValueError, match="give one"):
        is_live(left, AsOf())


def test_a_reversal_takes_a_use_back_from_when_it_was_recorded() -> None:
    later = AT + timedelta(days=3)
    rows = [use(1), use(2, recorded_at=later, reverses=1)]
    assert [row.number for row in standing(rows, AsOf(known_by=AT))] == [1]
    assert list(standing(rows, AsOf(known_by=later))) == []
    assert contacts_of(rows) == {}
    assert places_taken([], rows) == {}


def test_watching_is_no_hands_on_contact() -> None:
    rows = [use(1), use(2, is_contact=False)]
    assert contacts_of(rows) == {RAY: 2}
    assert contacts_of(rows, hands_on=True) == {RAY: 1}
    assert recent_contacts(rows, RAY, DAY) == {7: 1, 28: 1, 365: 1}


def test_the_windows_hold_their_first_and_their_last_day() -> None:
    rows = [use(n, happened_on=DAY - timedelta(days=n)) for n in (0, 6, 7, 27, 28, 364, 365)]
    assert recent_contacts(rows, RAY, DAY) == {7: 2, 28: 4, 365: 6}
    assert recent_contacts(rows, SHOAL, DAY) == {7: 0, 28: 0, 365: 0}
    assert recent_contacts(rows, RAY, DAY - timedelta(days=1))[7] == 2
    assert loads(rows, DAY) == {RAY: {7: 2, 28: 4, 365: 6}}


def test_a_limit_line_counts_its_own_kind_and_procedure_alone() -> None:
    enrolments = [
        enrolment(1),
        enrolment(2, subject=Subject("animal", 2), procedures=frozenset({6})),
        enrolment(3, subject=Subject("animal", 3), kind=Kind(2, "pup")),
    ]
    uses = [use(1), use(2, procedure=6), use(3, subject=Subject("animal", 9), kind=Kind(8))]
    adult = line_use(Kind(2, "adult"), 5, enrolments, uses)
    assert (adult.taken, adult.contacts) == (1, {RAY: 1})
    assert line_use(Kind(2), 5, enrolments, uses).taken == 2


@pytest.mark.outside
@pytest.mark.parametrize(
    ("severities", "least"),
    # Home Office advisory notes on actual severity, January 2014: the highest that was reached,
    # not the end state and not the average; the example of mild, mild, moderate is theirs.
    [([1, 1, 2], 2), ([2, 1, 0], 2), ([0], 0), ([9], 9), ([9, 1], 1)],
)
def test_the_actual_severity_is_the_highest_that_was_reached(
    severities: list[int], least: int
) -> None:
    assert least_severity(severities) == least
    assert not is_below(least, severities)
    assert not is_below(3, severities)


def test_no_use_asks_for_no_severity() -> None:
    assert least_severity([]) is None
    assert not is_below(0, [])


# ---------------------------------------------------------------------------------- two clocks

_deeds = st.lists(
    st.tuples(
        st.sampled_from(["use", "enrol", "leave", "reverse"]),
        st.integers(1, 4),  # which animal, or which earlier row
        st.integers(-20, 0),  # days before its recording on which it happened
    ),
    min_size=1,
    max_size=30,
)


def _history(
    deeds: list[tuple[str, int, int]],
) -> list[tuple[list[EnrolmentRow], list[UseRow]]]:
    """Give the rows as they stand after each deed; the n-th is recorded on the n-th day."""
    enrolments: list[EnrolmentRow] = []
    uses: list[UseRow] = []
    states = []
    for n, (sort, which, back) in enumerate(deeds):
        at, on = AT + timedelta(days=n), DAY + timedelta(days=n + back)
        subject = Subject("group" if which == 4 else "animal", which)
        if sort == "use":
            uses.append(use(n, subject=subject, animals=which, happened_on=on, recorded_at=at))
        elif sort == "enrol":
            enrolments.append(
                enrolment(n, subject=subject, animals=which, from_on=on, recorded_at=at)
            )
        elif sort == "reverse" and uses:
            wrong = uses[which % len(uses)]
            uses.append(replace(wrong, number=n, recorded_at=at, reverses=wrong.number))
        elif sort == "leave" and enrolments:
            place = which % len(enrolments)
            if enrolments[place].left_on is None:
                enrolments[place] = replace(enrolments[place], left_on=on, left_recorded_at=at)
        states.append((list(enrolments), list(uses)))
    return states


def _view(rows: tuple[list[EnrolmentRow], list[UseRow]], as_of: AsOf) -> object:
    enrolments, uses = rows
    assert as_of.day is not None
    return (
        places_taken(enrolments, uses, as_of),
        contacts_of(uses, as_of),
        loads(uses, as_of.day, known_by=as_of.known_by),
        line_use(KIND, 5, enrolments, uses, as_of),
        [row.number for row in enrolments if is_live(row, as_of)],
    )


@given(_deeds, st.integers(0, 29), st.integers(-20, 30))
def test_a_view_of_what_was_known_never_changes(
    deeds: list[tuple[str, int, int]], moment: int, day: int
) -> None:
    states = _history(deeds)
    moment %= len(deeds)
    as_of = AsOf(DAY + timedelta(days=day), AT + timedelta(days=moment))
    then = _view(states[moment], as_of)
    for later in states[moment:]:
        assert _view(later, as_of) == then


@given(_deeds, st.integers(-20, 29))
def test_more_days_never_free_a_place(deeds: list[tuple[str, int, int]], day: int) -> None:
    enrolments, uses = _history(deeds)[-1]
    before = places_taken(enrolments, uses, AsOf(DAY + timedelta(days=day)))
    after = places_taken(enrolments, uses, AsOf(DAY + timedelta(days=day + 1)))
    assert all(after[lot] >= number for lot, number in before.items())


@given(
    st.lists(
        st.tuples(
            st.sampled_from([RAY, SHOAL]),
            st.sampled_from([None, 1, 2]),
            st.integers(1, 9),
            st.sampled_from([4, 9]),
        ),
        max_size=20,
    )
)
def test_uses_summed_before_leave_the_same_of_a_limit(
    drawn: list[tuple[Subject, int, int, int]],
) -> None:
    uses = [
        use(nth, subject=subject, enrolment=under, animals=number, project=project)
        for nth, (subject, under, number, project) in enumerate(drawn)
    ]
    held = [enrolment(1), enrolment(2, subject=SHOAL, animals=3)]
    by_key: dict[tuple[int, Subject, int | None], list[UseRow]] = {}
    for one in uses:
        by_key.setdefault((one.project, one.subject, one.enrolment), []).append(one)
    summed = [
        UseSum(project, subject, KIND, 5, under, max(one.animals for one in here), len(here))
        for (project, subject, under), here in by_key.items()
    ]
    assert line_use_of_sums(KIND, 5, held, summed) == line_use(KIND, 5, held, uses)
