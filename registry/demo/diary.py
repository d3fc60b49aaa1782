"""The diary of the demo: deeds kept in any order, and played in the order of time."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from registry.demo.clock import standing_at

TOLD_ON = date(2026, 11, 24)
"""The day on which the story is told; each of its days is moved along with today."""

_TICK = timedelta(seconds=7)
_TOGETHER = 60


class Story:
    """Days of the story as days of the calendar of this machine."""

    def __init__(self, today: date) -> None:
        self.today = today

    def day(self, told: str) -> date:
        """Give a day of the story, moved so that the day on which it is told is today."""
        return date.fromisoformat(told) + (self.today - TOLD_ON)

    def at(self, told: str) -> datetime:
        """Give a moment of the story, “2026-11-22 16:40”, in the site's own time."""
        day, clock = told.split()
        return timezone.make_aware(datetime.combine(self.day(day), time.fromisoformat(clock)))

    def academic_year(self, told: str) -> str:
        """Give the label of a cohort that starts on a day of the story: an academic year.

        Whole years are added to the year told, so that no two cohorts get one label.
        """
        years = round((self.today - TOLD_ON).days / 365.25)
        year = date.fromisoformat(told).year + years
        return f"{year}–{(year + 1) % 100:02}"


class Diary:
    """Deeds with their moments."""

    def __init__(self, story: Story) -> None:
        self.story = story
        self._kept: list[tuple[datetime, int, bool, Callable[[], Any]]] = []

    def at(self, told: str, deed: Callable[..., Any], *given: Any, is_alone: bool = False) -> None:
        """Keep a deed for its moment; one that writes files stands in no wider transaction."""
        moment = self.story.at(told)
        if moment.date() >= self.story.today:
            raise ValueError(f"{told} has not come yet: what is done today is left to its people.")
        self._kept.append((moment, len(self._kept), is_alone, partial(deed, *given)))

    def play(self) -> int:
        """Do every deed at its moment, in the order of time, and give how many there were."""
        last = min(moment for moment, *_ in self._kept) - _TICK
        batch: list[tuple[datetime, Callable[[], Any]]] = []
        for moment, _, is_alone, deed in sorted(self._kept, key=lambda one: one[:2]):
            # Each a little later than the one before, so that the ledger's times only grow.
            last = max(moment, last + _TICK)
            if is_alone or len(batch) == _TOGETHER:
                _do_together(batch)
                batch = []
            if is_alone:
                with standing_at(last):
                    deed()
            else:
                batch.append((last, deed))
        _do_together(batch)
        return len(self._kept)


def _do_together(batch: list[tuple[datetime, Callable[[], Any]]]) -> None:
    """Do some deeds in one transaction: each is atomic by itself, and the disk waits only once."""
    with transaction.atomic():
        for moment, deed in batch:
            with standing_at(moment):
                deed()
