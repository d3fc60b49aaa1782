"""People of the demo, their standing, the bodies that decide, and inductions."""

from typing import Any

from django.conf import settings

from registry.demo.diary import Diary
from registry.demo.world import World, told
from registry.people import actions
from registry.people.models import Institution, Person, Training, the_clock
from registry.permissions import Role

PASSWORD = "what one tide leaves"  # noqa: S105 - see below
"""Known to everyone who reads this: the demo holds nothing that is true."""

_CLOCK_SETS_UP = "2023-11-01 09:00"


def email_of(row: dict[str, Any]) -> str:
    """Give the address with which someone of the demo signs in."""
    host = "norrholm.example" if row.get("is_university") else "skerrywick.example"
    return f"{row['email']}@{host}"


def sign_ins() -> list[tuple[str, str, str]]:
    """Give the standing, the name and the address of everyone who can sign in to the demo."""
    return [
        (row["signs_in"], row["name"], email_of(row))
        for row in told("people")["people"]
        if "signs_in" in row
    ]


def write(diary: Diary, world: World) -> None:
    """Write into the diary how everyone came, and what they may."""
    texts = told("people")
    diary.at(_CLOCK_SETS_UP, _administrator, world, texts)
    diary.at("2023-11-01 10:00", _the_others, world, texts)
    diary.at("2023-11-02 09:00", _bodies, world, texts)
    for row in texts["meetings"]:
        diary.at(f"{row['planned']} 15:00", _meetings, world, row)
    for row in texts["inductions"]:
        diary.at(f"{row['given']} 09:30", _induct, world, row)


def _institution(*, is_university: bool) -> Institution:
    name = settings.PARTNER_NAME if is_university else settings.SITE_NAME
    held = Institution.objects.filter(name=name).first()
    return held or actions.open_institution(name=name, is_university=is_university, by=the_clock())


def _add(row: dict[str, Any], *, by: Person) -> Person:
    is_university = bool(row.get("is_university"))
    return actions.add_person(
        name=row["name"],
        email=email_of(row),
        institution=_institution(is_university=is_university),
        post=row["post"],
        password=PASSWORD if "signs_in" in row else None,
        by=by,
    )


def _administrator(world: World, texts: dict[str, Any]) -> None:
    row = next(one for one in texts["people"] if Role.ADMINISTRATOR in one["roles"])
    person = _add(row, by=the_clock())
    actions.give_standing(person, role=Role.ADMINISTRATOR, reason="The first one.", by=the_clock())
    world.people[row["key"]] = Person.objects.get(pk=person.pk)


def _the_others(world: World, texts: dict[str, Any]) -> None:
    administrator = world.people["maren"]
    for row in texts["people"]:
        if row["key"] in world.people:
            continue
        person = _add(row, by=administrator)
        for role in row["roles"]:
            actions.give_standing(person, role=role, reason="As their post asks.", by=administrator)
        # Anew, so that the standing given since is seen.
        world.people[row["key"]] = Person.objects.get(pk=person.pk)


def _bodies(world: World, texts: dict[str, Any]) -> None:
    administrator = world.people["maren"]
    for row in texts["bodies"]:
        body = actions.open_body(
            name=row["name"],
            institution=_institution(is_university=row["is_university"]),
            is_ethics=row["is_ethics"],
            quorum=row["quorum"],
            lead_time_d=row["lead_time_d"],
            by=administrator,
        )
        for key in (row["chair"], *row["members"]):
            actions.seat_member(
                body, person=world.people[key], is_chair=key == row["chair"], by=administrator
            )
        world.bodies[row["key"]] = body


def _meetings(world: World, row: dict[str, Any]) -> None:
    body = world.bodies[row["body"]]
    chair = body.seats.get(is_chair=True).person
    for day in row["days"]:
        actions.plan_meeting(body, held_on=world.story.day(day), by=chair)


def _induct(world: World, row: dict[str, Any]) -> None:
    actions.induct_person(
        world.people[row["person"]],
        about=row.get("about", ""),
        training=Training.objects.filter(code=row.get("training")).first(),
        given_on=world.story.day(row["given"]),
        expires_on=world.story.day(row["expires"]),
        by=world.people[row["by"]],
    )
