"""The deed of a birth: the young come into the register, and the dam is kept off while it rears."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.arriving import first_event, free, write_new
from registry.animals.days import not_before, within_stay
from registry.animals.happening import write
from registry.animals.inheriting import end_heirs, write_end
from registry.animals.models import Animal, Event, Group, LifeStage, Parentage, Restriction, Sex
from registry.animals.stock import Count
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.search import index as search
from registry.transitions import locked, move


@transaction.atomic
def bear_young(
    animal: Animal,
    *,
    code: str,
    name: str = "",
    males: int = 0,
    females: int = 0,
    unknown: int = 0,
    life_stage: str = LifeStage.PUP,
    happened_on: date,
    note: str = "",
    by: Person,
) -> Animal | Group:
    """Record a birth, and give the young: one as an animal, several as a group, a litter.

    “Gravid” on the dam ends that day, unless a veterinary surgeon alone may end it, and “rearing”
    begins.

    Refused when: the dam has left; nobody was born; the code is in the register; the day lies
    before its arrival or its last birth or scan, or in the future.
    """
    require(by, Verb.ANIMAL_BEAR, animal)
    animal = locked(animal)
    before, after = move(animal, "bear")
    what = _("The birth of %(animal)s was not recorded.") % {"animal": animal}
    within_stay(animal, happened_on, what=what)
    told = animal.events.standing().filter(sort__in=[Event.Sort.BORE, Event.Sort.SCANNED]).last()
    if told is not None:
        not_before(happened_on, told.happened_on, "it was last scanned or gave birth", what=what)
    number = Count(males, females, unknown)
    if number.total == 0:
        raise Unsound(
            what,
            "Nobody was born.",
            "Give how many; those whose sex you do not know go under unknown.",
            fields={"unknown": "Give at least one."},
        )
    free(Animal, "code", code, what)
    free(Group, "code", code, what)
    young = _young(animal, number, code=code, name=name, stage=life_stage, day=happened_on)
    write_new(young, what)
    bore = write(
        animal, Event.Sort.BORE, happened_on, by, number=number.total, is_positive=True, note=note
    )
    born = first_event(young, by=by)
    born.partner = bore
    born.save(force_insert=True)
    dam = Parentage.objects.create(
        **{str(young.kind): young},
        role=Parentage.Role.DAM,
        parent=animal,
        evidence=Parentage.Evidence.SEEN_BIRTH,
        recorded_by=by,
    )
    touched: list[Any] = [young, bore, born, dam, *_rearing(animal, happened_on, by)]
    search.write(young)
    record(Verb.ANIMAL_BEAR, animal, by=by, before=before, after=after, touched=touched)
    return young


def _young(
    dam: Animal, number: Count, *, code: str, name: str, stage: str, day: date
) -> Animal | Group:
    shared: dict[str, Any] = {
        "code": code,
        "taxon": dam.taxon,
        "owner": dam.owner,
        "enclosure": dam.enclosure,
        "life_stage": stage,
        "born_on": day,
        "arrived_on": day,
    }
    if number.total > 1:
        return Group(
            name=name or f"Young of {dam}"[:80],
            sort=Group.Sort.LITTER,
            males=number.males,
            females=number.females,
            unknown=number.unknown,
            **shared,
        )
    sex = Sex.MALE if number.males else Sex.FEMALE if number.females else Sex.UNKNOWN
    return Animal(name=name, sex=sex, origin=f"born here of {dam}"[:200], **shared)


def _rearing(dam: Animal, day: date, by: Person) -> list[Restriction]:
    """End “gravid” on a dam and begin “rearing”; give what was written."""
    written = []
    gravid = dam.restrictions.filter(sort="gravid", state="begun", began_on__lte=day)
    for one in gravid.exclude(strength=Restriction.Strength.VETS_WORD).order_by("pk"):
        ended = locked(one)
        move(ended, "end")
        write_end(ended, day, by)
        written += [ended, *end_heirs(ended, day, by)]
    if not dam.restrictions.filter(sort="rearing", state="begun").exists():
        rearing = Restriction.objects.create(
            animal=dam,
            sort=Restriction.Sort.REARING,
            strength=Restriction.usual(Restriction.Sort.REARING),
            began_on=day,
            begun_by=by,
        )
        written.append(rearing)
    return written
