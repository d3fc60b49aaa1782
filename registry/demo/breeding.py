"""Young of the demo: who their parents are by what evidence, and the egg cases of the rays."""

from typing import Any

from registry.animals import actions
from registry.animals.models import EggCase
from registry.demo.diary import Diary
from registry.demo.world import World

_TABLE = "the house’s own table of five stages, drawn for this collection"


def write(diary: Diary, world: World) -> None:
    """Write into the diary what was laid, looked at and hatched, and who begot whom."""
    for key in ("morwen", "skerry", "tamsin"):
        diary.at("2023-11-06 15:00", _parent, world, key, "dam", "loveday", "seen_birth")
    diary.at("2023-11-06 15:10", _parent, world, "skerry", "sire", "denzil", "assumed")
    for code in ("case-61", "case-62"):
        diary.at("2026-04-20 09:30", _laid, world, code)
        diary.at("2026-06-01 09:30", _candled, world, code, code == "case-61")
    diary.at("2026-06-29 10:00", _staged, world, "case-61", 4)
    diary.at("2026-07-27 08:20", _hatched, world, "case-61", "ray-11")
    diary.at("2026-07-27 08:30", _closed, world)
    for code in ("case-63", "case-64"):
        diary.at("2026-10-05 09:30", _laid, world, code)
    diary.at("2026-11-09 09:40", _candled, world, "case-63", True)
    diary.at("2026-11-09 09:50", _staged, world, "case-63", 2)
    diary.at("2026-11-10 09:00", _measured, world, "morwen", 812)


def _parent(world: World, young: str, role: str, parent: str, evidence: str) -> None:
    actions.name_parent(
        world.animals[young],
        role=role,
        parent=world.animals[parent],
        evidence=evidence,
        by=world.people["isolde"],
    )


def _laid(world: World, code: str) -> None:
    actions.record_case(
        code=code,
        taxon=world.taxa["ray"],
        enclosure=world.places["2"],
        laid_on=world.today(),
        dam=world.animals["loveday"],
        by=world.people["bryn"],
    )


def _embryo(code: str) -> Any:
    return EggCase.objects.get(code=code).embryos.get()


def _candled(world: World, code: str, is_fertile: bool) -> None:
    actions.candle_embryo(
        _embryo(code), is_fertile=is_fertile, happened_on=world.today(), by=world.people["bryn"]
    )


def _staged(world: World, code: str, stage: float) -> None:
    actions.stage_embryo(
        _embryo(code),
        stage=stage,
        method=_TABLE,
        happened_on=world.today(),
        by=world.people["bryn"],
    )


def _hatched(world: World, code: str, young: str) -> None:
    world.animals[young] = actions.hatch_embryo(
        _embryo(code), code=young, happened_on=world.today(), by=world.people["bryn"]
    )


def _closed(world: World) -> None:
    for code in ("case-61", "case-62"):
        case = EggCase.objects.get(code=code)
        actions.end_case(case, ended_on=world.today(), by=world.people["bryn"])


def _measured(world: World, key: str, width_mm: float) -> None:
    actions.measure_animal(
        world.animals[key],
        measure="width_mm",
        value=width_mm,
        happened_on=world.today(),
        method="from a picture beside a rule",
        by=world.people["bryn"],
    )
