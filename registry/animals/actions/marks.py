"""The deed that says how one tells an animal apart."""

from django.db import IntegrityError, transaction

from registry.animals.chips import read_code
from registry.animals.models import Animal, Mark
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move


@transaction.atomic
def mark_animal(animal: Animal, *, sort: str, said: str, by: Person) -> Mark:
    """Record how an animal is told apart; a chip's code is read by its standard and kept bare.

    Refused when: it has left; a chip's code is unsound; another animal bears that chip; the mark
    was recorded already.
    """
    require(by, Verb.ANIMAL_MARK, animal)
    animal = locked(animal)
    before, after = move(animal, "mark")
    said = " ".join(said.split())
    if sort == Mark.Sort.CHIP:
        said = _chip(said)
        bearer = Mark.objects.filter(sort=sort, said=said, ended_on=None).first()
        if bearer is not None:
            raise Conflict(
                "The chip was not recorded.",
                f"{bearer.animal} bears it.",
                "Read the chip again; if it is right, look which of the two animals you hold.",
                fields={"said": f"{bearer.animal} bears it."},
            )
    elif animal.marks.filter(sort=sort, said__iexact=said, ended_on=None).exists():
        raise Conflict(
            "The mark was not recorded twice.", f"{animal} has it already.", "Nothing needs doing."
        )
    try:
        with transaction.atomic():
            mark = Mark.objects.create(animal=animal, sort=sort, said=said, recorded_by=by)
    except IntegrityError as problem:
        raise Conflict(
            "The chip was not recorded.",
            "Someone gave it to another animal in the same moment.",
            "Read the chip again, and look which of the two animals you hold.",
        ) from problem
    search.write(animal)
    record(Verb.ANIMAL_MARK, animal, by=by, before=before, after=after, touched=[mark])
    return mark


def _chip(text: str) -> str:
    """Give the fifteen digits, or the refusal under the form's own field."""
    try:
        return read_code(text).code
    except Unsound as refused:
        raise Unsound(
            refused.what,
            refused.why,
            "Read the chip again. A chip from before the standard is recorded as an other code.",
            fields={"said": refused.why},
        ) from refused
