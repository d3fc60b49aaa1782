"""The clock that stands in the past, and the diary that is played by it."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from registry.demo.clock import standing_at
from registry.demo.diary import Diary, Story
from registry.people.models import Person
from tests.worlds.people import make_person

THEN = datetime(2024, 3, 3, 9, 10, tzinfo=UTC)


def test_the_clock_stands_for_calls_and_for_defaults_and_goes_on_afterwards() -> None:
    with standing_at(THEN):
        assert timezone.now() == THEN
        assert timezone.localdate() == date(2024, 3, 3)
        assert Person(name="made now").added_at == THEN
    assert timezone.now() - THEN > timedelta(days=365)
    with pytest.raises(RuntimeError), standing_at(THEN):
        raise RuntimeError
    assert timezone.now() > THEN


def test_the_clock_stands_in_the_zone_that_is_asked_for() -> None:
    summer = datetime(2024, 7, 1, 23, 30, tzinfo=UTC)
    with standing_at(summer):
        assert timezone.localdate() == date(2024, 7, 2)
        assert timezone.localtime().hour == 0


@pytest.mark.django_db
def test_deeds_are_done_in_the_order_of_their_moments_whatever_the_order_of_writing() -> None:
    diary = Diary(Story(date(2026, 12, 24)))
    done: list[tuple[str, datetime]] = []

    def note(name: str) -> None:
        done.append((name, timezone.now()))

    diary.at("2026-11-01 10:00", note, "last")
    diary.at("2026-10-31 10:00", note, "first", is_alone=True)
    diary.at("2026-10-31 10:00", note, "second, told for the same moment")
    assert diary.play() == 3
    assert [name for name, _ in done] == ["first", "second, told for the same moment", "last"]
    moments = [at for _, at in done]
    assert moments == sorted(set(moments))
    # The story is told on 24 November; this one a month later.
    assert timezone.localdate(moments[-1]) == date(2026, 12, 1)


def test_nothing_of_the_story_is_done_today_or_later() -> None:
    diary = Diary(Story(date(2026, 11, 24)))
    with pytest.raises(ValueError, match="has not come yet"):
        diary.at("2026-11-24 08:00", print)


@pytest.mark.django_db
def test_the_demo_is_not_mixed_into_a_register_that_holds_something() -> None:
    make_person()
    with pytest.raises(CommandError, match="holds something already"):
        call_command("make_demo")


def test_cohorts_a_year_apart_never_share_a_label_whatever_the_day() -> None:
    starts = ("2024-05-20", "2025-05-12", "2026-05-11")
    for days in range(0, 800, 23):
        story = Story(date(2026, 11, 24) + timedelta(days=days))
        assert len({story.academic_year(one) for one in starts}) == len(starts)
    assert Story(date(2026, 11, 24)).academic_year("2026-05-11") == "2026–27"
