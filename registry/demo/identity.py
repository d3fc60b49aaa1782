"""How animals of the demo are told apart: marks, drawn pictures of them, and second readers."""

from typing import Any

from django.core.files.base import ContentFile

from registry.animals import actions
from registry.animals.models import Mark
from registry.animals.pictures.keeping import Picture, keep
from registry.demo import drawn
from registry.demo.diary import Diary
from registry.demo.world import World, told


def write(diary: Diary, world: World) -> None:
    """Write into the diary who recorded which mark, who photographed it, and who read it."""
    texts = told("identity")
    for n, row in enumerate(texts["marks"]):
        diary.at("2026-02-02 10:00", _mark, world, row)
        if signs := row.get("signs"):
            diary.at("2026-02-03 10:00", _photograph, world, row, signs, n, is_alone=True)
    for row in texts["readings"]:
        diary.at("2026-02-17 10:00", _read, world, *row)


def _mark(world: World, row: dict[str, Any]) -> None:
    actions.mark_animal(
        world.animals[row["of"]],
        sort=row["sort"],
        said=row["said"],
        side=row["side"],
        by=world.people["bryn"],
    )


def _found(world: World, of: str, said: str) -> Mark:
    return world.animals[of].marks.get(said=said)


def _photograph(world: World, row: dict[str, Any], signs: list[str], seed: int) -> None:
    sent = ContentFile(drawn.ray(signs, seed), "ray.png")
    picture: Picture = keep(sent)
    actions.photograph_mark(
        _found(world, row["of"], row["said"]),
        picture=picture,
        side="above",
        said=f"Drawn from above: {row['said'][0].lower()}{row['said'][1:]}",
        taken_on=world.today(),
        by=world.people["bryn"],
    )


def _read(world: World, of: str, said: str, reader: str, answer: str, confidence: str) -> None:
    actions.read_mark(
        _found(world, of, said),
        answer=world.animals[answer],
        confidence=confidence,
        by=world.people[reader],
    )
