"""People, bodies and institutions for the tests, made by the deeds that make them on the site."""

from itertools import count

from registry.people import actions
from registry.people.models import Body, Institution, Person, the_clock
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
    return Institution.objects.get_or_create(name=name)[0]


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
