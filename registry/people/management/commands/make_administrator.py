"""Make the first person who can give others their standing."""

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction

from registry.errors import Refusal
from registry.people import actions
from registry.people.letters import password_link
from registry.people.models import Person, the_clock
from registry.permissions import Role


class Command(BaseCommand):
    help = "Make an administrator, by the clock, and print the link that sets their password."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name")
        parser.add_argument("email")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            validate_email(options["email"])
            person = make(options["name"], options["email"])
        except ValidationError as problem:
            raise CommandError(f"{options['email']}: {' '.join(problem.messages)}") from problem
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"{person} is an administrator. The link works once, for three days:")
        self.stdout.write(password_link(person))


@transaction.atomic
def make(name: str, email: str) -> Person:
    """Add the person where there is none of this e-mail, and give them the standing."""
    clock = the_clock()
    person: Person | None = Person.objects.real().filter(email__iexact=email).first()
    if person is None:
        person = actions.add_person(name=name, email=email, by=clock)
    actions.give_standing(
        person, role=Role.ADMINISTRATOR, reason="Made at the machine itself.", by=clock
    )
    return person
