"""Animals of the demo that are lent, away at the partner, or gone, and what is heard of them."""

from typing import Any

from django.conf import settings

from registry.afar import actions
from registry.animals import actions as animals
from registry.animals.models import EggCase
from registry.demo.diary import Diary
from registry.demo.world import World
from registry.people.actions import open_institution
from registry.people.models import Institution, the_clock

_WHERE = "Hallin Sound Sea Hall"


def write(diary: Diary, world: World) -> None:
    """Write into the diary a ray that left, its dossier, its young elsewhere; and a shoal lent."""
    diary.at("2023-11-06 12:30", _corrow_comes, world)
    diary.at("2025-05-08 10:00", _dossier, world)
    diary.at("2025-05-12 09:00", _corrow_goes, world)
    diary.at("2026-07-06 14:00", _bred, world)
    diary.at("2026-11-09 15:00", _young_moved_on, world)
    diary.at("2026-10-19 11:00", _shoal_in_custody, world)
    diary.at("2023-11-13 10:00", _denzil_on_loan, world)
    diary.at("2026-11-16 10:00", _case_in_custody, world)


def _corrow_comes(world: World) -> None:
    world.animals["corrow"] = animals.receive_animal(
        code="ray-1",
        name="Corrow",
        taxon=world.taxa["ray"],
        sex="male",
        life_stage="adult",
        enclosure=world.places["6"],
        arrived_on=world.today(),
        origin="here since 2012 by the old books",
        by=world.people["isolde"],
    )
    corrow, chip = world.animals["corrow"], "826 098 410 114 902"
    animals.mark_animal(corrow, sort="chip", said=chip, by=world.people["isolde"])


def _dossier(world: World) -> None:
    actions.write_dossier(world.animals["corrow"], receiver=_WHERE, by=world.people["isolde"])


def _corrow_goes(world: World) -> None:
    animals.leave_animal(
        world.animals["corrow"],
        sort="departed",
        happened_on=world.today(),
        note=f"To {_WHERE}, to breed there.",
        by=world.people["isolde"],
    )


def _bred(world: World) -> None:
    actions.hear_news(
        world.animals["corrow"],
        sort="bred",
        happened_on=world.story.day("2026-06-15"),
        precision="month",
        number=5,
        where=_WHERE,
        said="Five young hatched of eggs laid in February; he is the only male there.",
        told_by="its curator, by letter",
        by=world.people["isolde"],
    )


def _young_moved_on(world: World) -> None:
    gone = world.animals["corrow"]
    actions.hear_news(
        gone,
        follows=gone.news.get(sort="bred"),
        sort="moved_on",
        happened_on=world.story.day("2026-11-02"),
        number=2,
        where="Brattvik Shore House",
        told_by="its curator, by call",
        by=world.people["tam"],
    )


def _denzil_on_loan(world: World) -> None:
    animals.lend(
        world.animals["denzil"],
        direction="in",
        institution=open_institution(name=_WHERE, is_university=False, by=the_clock()),
        began_on=world.today(),
        terms="He stays as long as he breeds. Of his young the first of each year is its owner's.",
        by=world.people["isolde"],
    )


def _shoal_in_custody(world: World) -> None:
    _in_custody(world, world.groups["brood"], "Wet room 1, tank 3", "Tank 14 is relined.")


def _case_in_custody(world: World) -> None:
    case = EggCase.objects.get(code="case-64")
    _in_custody(world, case, "Wet room 2, shelf 1", "To be looked at under a better light.")


def _in_custody(world: World, subject: Any, place: str, why: str) -> None:
    actions.give_custody(
        subject,
        holder=Institution.objects.get(name=settings.PARTNER_NAME),
        place=place,
        answerable=world.people["ingrid"],
        began_on=world.today(),
        expected_end_on=world.story.day("2026-11-30"),
        why=why,
        by=world.people["isolde"],
    )
