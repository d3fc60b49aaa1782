"""Taxa, enclosures, animals and groups of the demo, and what bars them."""

from typing import Any

from registry.animals import actions
from registry.animals.models import Taxon
from registry.demo.diary import Diary
from registry.demo.world import World, told


def write(diary: Diary, world: World) -> None:
    """Write into the diary who lives here, from when on, and what happened to them."""
    texts = told("animals")
    diary.at("2023-11-06 08:00", _taxa_and_places, world, texts)
    for row in texts["animals"]:
        diary.at(f"{row['arrived']} 11:00", _animal, world, row)
    for row in texts["groups"]:
        diary.at(f"{row['arrived']} 11:30", _group, world, row)
    _what_happened(diary, world)


def _taxa_and_places(world: World, texts: dict[str, Any]) -> None:
    curator = world.people["isolde"]
    for key, scientific_name, common_name, taxon_class in texts["taxa"]:
        held = Taxon.objects.filter(scientific_name=scientific_name).first()
        world.taxa[key] = held or actions.add_taxon(
            scientific_name=scientific_name,
            common_name=common_name,
            taxon_class=taxon_class,
            source="the house's own list",
            by=curator,
        )
    for code, name, is_on_show in texts["places"]:
        world.places[code] = actions.open_enclosure(
            code=code, name=name, is_on_show=is_on_show, by=curator
        )
    rays = [world.people[key] for key in ("bryn", "tam")]
    actions.name_keepers(world.places["2"], keepers=rays, by=curator)


def _animal(world: World, row: dict[str, Any]) -> None:
    world.animals[row["key"]] = actions.receive_animal(
        code=row["code"],
        name=row["name"],
        taxon=world.taxa[row["taxon"]],
        sex=row["sex"],
        life_stage=row["stage"],
        enclosure=world.places[row["place"]],
        arrived_on=world.story.day(row["arrived"]),
        born_on=world.story.day(row["born"]) if row["born"] else None,
        origin=row["origin"],
        by=world.people["isolde"],
    )


def _group(world: World, row: dict[str, Any]) -> None:
    world.groups[row["key"]] = actions.receive_group(
        code=row["code"],
        name=row["name"],
        sort=row["sort"],
        taxon=world.taxa[row["taxon"]],
        life_stage=row["stage"],
        enclosure=world.places[row["place"]],
        males=row["males"],
        females=row["females"],
        unknown=row["unknown"],
        arrived_on=world.story.day(row["arrived"]),
        by=world.people["isolde"],
    )


# ------------------------------------------------------------------------------- what happened


def _what_happened(diary: Diary, world: World) -> None:
    for key, moment in (("morwen", "2025-03-03 09:00"),):
        diary.at(moment, _move, world, key, "hospital", "To be treated, fin edge.")
    keep_off: tuple[Any, ...] = ("treatment", "vets_word", "Treated, fin edge.", "fergus")
    diary.at("2025-03-03 09:10", _restrict, world, "morwen-2025", "morwen", *keep_off, "2025-03-24")
    diary.at("2025-03-24 10:00", _end, world, "morwen-2025", "Healed, feeding again.", "fergus")
    diary.at("2025-03-24 10:30", _move, world, "morwen", "2", "Back to the channel.")
    house: tuple[Any, ...] = (
        "gravid",
        "observation_only",
        "Spring and summer, all of tank 2: egg cases are laid. House rule 6.",
        "fergus",
    )
    diary.at("2026-04-01 09:00", _restrict, world, "tank-2", "2", *house, "2026-08-31")
    diary.at("2026-09-01 09:00", _end, world, "tank-2", "No case was laid since July.", "fergus")
    diary.at("2026-10-12 12:00", _new_seahorses, world)
    diary.at("2026-11-09 09:00", _end, world, "pair-f-female", "28 days of rest.", "isolde")
    diary.at("2026-11-09 09:05", _end, world, "pair-f-male", "28 days of rest.", "isolde")
    welfare: tuple[Any, ...] = ("welfare", "bars_all")
    scuffed = "Scuffed disc after the gravel was changed."
    diary.at(
        "2026-11-16 08:40", _restrict, world, "skerry", "skerry", *welfare, scuffed, "bryn",
        "2026-11-23",
    )  # fmt: skip
    diary.at("2026-11-23 11:20", _end, world, "skerry", "Looked at: whole and feeding.", "fergus")
    raw = "The fin edge is raw again, right wing. The veterinary surgeon has not yet seen her."
    diary.at(
        "2026-11-22 16:40", _restrict, world, "morwen", "morwen", *welfare, raw, "tam", "2026-11-24"
    )
    moult = ("moult", "bars_all", "In catastrophic moult, off the water.")
    for key in ("lochan", "tor"):
        diary.at("2026-11-17 09:00", _restrict, world, key, key, *moult, "bryn", "2026-12-04")
    nursery = ("welfare", "bars_all", "Drained after the loss; the standpipe is looked at.")
    diary.at("2026-09-15 08:30", _restrict, world, "tank-39", "39", *nursery, "tam", None)


def _move(world: World, key: str, place: str, note: str) -> None:
    actions.move_animal(
        world.animals[key],
        enclosure=world.places[place],
        happened_on=world.today(),
        note=note,
        by=world.people["tam"],
    )


def _restrict(
    world: World, key: str, on: str, sort: str, strength: str, note: str, by: str, until: str | None
) -> None:
    subject: Any = world.animals.get(on) or world.places[on]
    world.restrictions[key] = actions.begin_restriction(
        subject,
        sort=sort,
        strength=strength,
        note=note,
        began_on=world.today(),
        expected_end_on=world.story.day(until) if until else None,
        by=world.people[by],
    )


def _end(world: World, key: str, reason: str, by: str) -> None:
    actions.end_restriction(
        world.restrictions[key], ended_on=world.today(), reason=reason, by=world.people[by]
    )


def _new_seahorses(world: World) -> None:
    note = "House rule: 28 days of rest after arrival."
    for key in ("pair-f-female", "pair-f-male"):
        _restrict(world, key, key, "acclimating", "bars_all", note, "isolde", "2026-11-09")
