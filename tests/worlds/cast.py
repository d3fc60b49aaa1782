"""The invented cast of a whole job, and the collection in which it plays; by the deeds of people.

Names and places are those of the demo's scenario, and all invented.
"""

from dataclasses import dataclass
from datetime import date

from registry.animals import actions as animals
from registry.animals.models import Animal, Enclosure, Taxon
from registry.people import actions
from registry.people.models import Body, Institution, Person, the_clock
from registry.permissions import Role
from registry.projects.models import Procedure
from tests.worlds.approvals import make_kinds
from tests.worlds.people import PASSWORD, fresh, make_institution
from tests.worlds.projects import make_procedure


@dataclass(frozen=True)
class Cast:
    """Everyone who has a part in the job."""

    keeper: Person
    curator: Person
    vet: Person
    lead: Person
    reviewer: Person
    student: Person
    steward: Person
    auditor: Person
    administrator: Person
    chair: Person
    member: Person
    ethics_chair: Person
    ethics_member: Person
    committee: Body
    ethics: Body


def make_cast() -> Cast:
    """Add the people, seat the two bodies, and load the vocabulary of permissions."""
    clock = the_clock()
    make_kinds()
    aquarium, university = make_institution(), make_institution("Norrholm University")

    def add(name: str, home: Institution, *roles: str, by: Person = clock) -> Person:
        address = name.lower().replace(" ", ".")
        person = actions.add_person(
            name=name,
            email=f"{address}@{'norrholm' if home == university else 'skerrywick'}.example",
            institution=home,
            password=PASSWORD,
            by=by,
        )
        for role in roles:
            actions.give_standing(person, role=role, reason="As their post asks.", by=by)
        return fresh(person)

    administrator = add("Maren Tolliver", aquarium, Role.ADMINISTRATOR)
    chair = add("Ruth Amankwah", aquarium, by=administrator)
    member = add("Bryn Halloran", aquarium, Role.KEEPER, by=administrator)
    ethics_chair = add("Halvard Stene", university, by=administrator)
    ethics_member = add("Noor Castellane", university, Role.STEWARD, by=administrator)
    bodies = {}
    for name, home, first, second in (
        ("Skerrywick research committee", aquarium, chair, member),
        ("Norrholm animal ethics body", university, ethics_chair, ethics_member),
    ):
        body = actions.open_body(
            name=name, institution=home, is_ethics=True, quorum=2, by=administrator
        )
        actions.seat_member(body, person=first, is_chair=True, by=administrator)
        actions.seat_member(body, person=second, is_chair=False, by=administrator)
        bodies[name] = body
    return Cast(
        keeper=add("Tam Oduya", aquarium, Role.KEEPER, by=administrator),
        curator=add("Isolde Marrack", aquarium, Role.CURATOR, by=administrator),
        vet=add("Fergus Dunmore", aquarium, Role.VET, by=administrator),
        lead=add("Oluwaseun Brandt", university, Role.SUPERVISOR, by=administrator),
        reviewer=add("Ingrid Vestergaard", university, Role.SUPERVISOR, by=administrator),
        student=add("Mirela Okonjo", university, Role.STUDENT, by=administrator),
        steward=fresh(ethics_member),
        auditor=add("Edda Thorne", aquarium, Role.AUDITOR, by=administrator),
        administrator=administrator,
        chair=fresh(chair),
        member=fresh(member),
        ethics_chair=fresh(ethics_chair),
        ethics_member=fresh(ethics_member),
        committee=bodies["Skerrywick research committee"],
        ethics=bodies["Norrholm animal ethics body"],
    )


@dataclass(frozen=True)
class Pool:
    """Where the animals live, which they are, and what may be done with them."""

    taxon: Taxon
    place: Enclosure
    rays: list[Animal]
    procedure: Procedure


def make_pool(curator: Person, *, arrived_on: date, rays: int = 4) -> Pool:
    """Give one pool with some undulate rays, R-01 and on, and watching as a procedure."""
    taxon = animals.add_taxon(
        scientific_name="Raja undulata",
        common_name="undulate ray",
        taxon_class="cartilaginous_fish",
        source="a test",
        by=curator,
    )
    place = animals.open_enclosure(code="P1", name="Ray pool", is_on_show=True, by=curator)
    return Pool(
        taxon=taxon,
        place=place,
        rays=[
            animals.receive_animal(
                code=f"R-{n:02}",
                name="",
                taxon=taxon,
                sex="female",
                life_stage="adult",
                enclosure=place,
                arrived_on=arrived_on,
                by=curator,
            )
            for n in range(1, rays + 1)
        ],
        procedure=make_procedure(),
    )
