"""People, bodies and institutions for the tests, made by the deeds that make them on the site."""

import time
from itertools import count

from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value

from registry.people import actions
from registry.people.models import Body, Institution, Person, the_clock
from registry.people.sign_in import actions as sign_in
from registry.people.sign_in import factor
from registry.permissions import Role

_number = count(1)
PASSWORD = "a tide goes out"


def fresh(person: Person) -> Person:
    """Give the person anew, so that standing given since is seen."""
    found: Person = Person.objects.get(pk=person.pk)
    return found


def make_person(*roles: str, name: str = "") -> Person:
    """Give a new person with these standings."""
    clock = the_clock()
    n = next(_number)
    person = actions.add_person(
        name=name or f"{'-'.join(roles) or 'person'} {n}",
        email=f"person{n}@skerrywick.example",
        password=PASSWORD,
        by=clock,
    )
    for role in roles:
        actions.give_standing(person, role=role, reason="for a test", by=clock)
    return fresh(person)


def make_institution(name: str = "Skerrywick Aquarium") -> Institution:
    """Give the collection, or another institution."""
    held = Institution.objects.filter(name=name).first()
    is_university = "University" in name
    return held or actions.open_institution(name=name, is_university=is_university, by=the_clock())


def make_body(
    name: str = "", *, is_ethics: bool = True, quorum: int = 2
) -> tuple[Body, Person, Person]:
    """Give a body with its chair and one more member."""
    administrator = make_person(Role.ADMINISTRATOR)
    body = actions.open_body(
        name=name or f"body {next(_number)}",
        institution=make_institution(),
        is_ethics=is_ethics,
        quorum=quorum,
        by=administrator,
    )
    chair, member = make_person(name="chair"), make_person(name="member")
    actions.seat_member(body, person=chair, is_chair=True, by=administrator)
    actions.seat_member(body, person=member, is_chair=False, by=administrator)
    return body, fresh(chair), fresh(member)


def now_code(secret: str, step: int | None = None, *, off: int = 0) -> str:
    """Give the code that an app shows for a secret now, or some half minutes off."""
    now = int(time.time()) // 30 if step is None else step
    return format_hotp_value(hotp_value(secret, now + off))


def with_second_factor(*roles: str) -> tuple[Person, str, list[str]]:
    """Give a person who has a second factor, with the secret of the app and the recovery codes."""
    person, secret = make_person(*roles), factor.new_secret()
    _, codes = sign_in.turn_on_second_factor(
        person, secret=secret, code=now_code(secret), by=person
    )
    return fresh(person), secret, codes
