"""Questions of the demo: who asked, and how the curator sorted them."""

from collections.abc import Callable
from typing import Any

from registry.demo.diary import Diary
from registry.demo.world import World, told
from registry.questions import actions


def write(diary: Diary, world: World) -> None:
    """Write into the diary how each question was posted and sorted, and who would like which."""
    for row in told("questions"):
        diary.at(row["at"], _post, world, row)
        for verb, sort in _SORTS.items():
            if verb in row:
                diary.at(row[verb][0], sort, world, row["n"], *row[verb][1:])
    why = "The first cohort's tables are accepted now, and strings were cut in some tanks."
    diary.at("2025-05-05 09:00", _reopen, world, 8, why)
    liked: tuple[tuple[str, int, str, str], ...] = (
        ("2026-10-19 20:10", 9, "wu", "I read maps and old photographs for pleasure."),
        ("2026-10-20 18:30", 10, "wu", "Or this one, if the marks are taken."),
        ("2026-11-02 21:00", 9, "theo", "Once the seahorses are done."),
        ("2026-11-11 19:45", 20, "anselm", "It is what I see from the hide anyway."),
    )
    for moment, number, who, note in liked:
        diary.at(moment, _like, world, number, who, note)


def _post(world: World, row: dict[str, Any]) -> None:
    wanted_by = row.get("wanted_by")
    world.questions[row["n"]] = actions.post_question(
        title=row["title"],
        why=row["why"],
        would_change=row["would_change"],
        animals=row["animals"],
        taxon=world.taxa.get(row.get("taxon", "")),
        wanted_by=world.story.day(wanted_by) if wanted_by else None,
        by=world.people[row["by"]],
    )


def _take_on(world: World, n: int, reason: str, level: str, first: int, last: int) -> None:
    actions.take_on_question(
        world.questions[n],
        reason=reason,
        level=level,
        first_month=first,
        last_month=last,
        by=world.people["isolde"],
    )


def _merge(world: World, n: int, into: int, reason: str) -> None:
    actions.merge_question(
        world.questions[n], into=world.questions[into], reason=reason, by=world.people["isolde"]
    )


def _park(world: World, n: int, reason: str) -> None:
    actions.park_question(world.questions[n], reason=reason, by=world.people["isolde"])


def _decline(world: World, n: int, reason: str) -> None:
    actions.decline_question(world.questions[n], reason=reason, by=world.people["isolde"])


def _reopen(world: World, n: int, reason: str) -> None:
    actions.reopen_question(world.questions[n], reason=reason, by=world.people["isolde"])


def _like(world: World, n: int, who: str, note: str) -> None:
    actions.like_question(world.questions[n], note=note, by=world.people[who])


_SORTS: dict[str, Callable[..., None]] = {
    "take_on": _take_on,
    "merge": _merge,
    "park": _park,
    "decline": _decline,
}
