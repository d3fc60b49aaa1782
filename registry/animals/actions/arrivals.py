"""Deeds that bring a taxon, an enclosure, an animal or a group into the register."""

from datetime import date
from typing import Any

from django.db import IntegrityError, models, transaction

from registry.animals.arriving import check_days, first_event
from registry.animals.models import Animal, Enclosure, Group, Taxon
from registry.animals.stock import Count
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Institution, Person
from registry.permissions import Verb, require
from registry.search import index as search


def _free(model: type[models.Model], field: str, value: str, what: str) -> None:
    """Refuse a name or code that another row bears, capitals and small letters alike."""
    if model._default_manager.filter(**{f"{field}__iexact": value}).exists():
        raise Unsound(
            what,
            f"“{value}” is in the register already.",
            "Look it up and use it, or give another.",
            fields={field: "It is in the register already."},
        )


def _write(row: models.Model, what: str) -> None:
    """Save a new row, or refuse where someone took its name in the same moment."""
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as problem:
        raise Conflict(
            what, "Someone took that name or code in the same moment.", "Look at the list again."
        ) from problem


@transaction.atomic
def add_taxon(
    *, scientific_name: str, common_name: str, taxon_class: str, source: str = "", by: Person
) -> Taxon:
    """Add a taxon.

    Refused when: its scientific name is in the register.
    """
    require(by, Verb.TAXON_ADD)
    scientific_name = " ".join(scientific_name.split())
    _free(Taxon, "scientific_name", scientific_name, "The taxon was not added.")
    taxon = Taxon(
        scientific_name=scientific_name,
        common_name=common_name,
        taxon_class=taxon_class,
        source=source,
    )
    _write(taxon, "The taxon was not added.")
    search.write(taxon)
    record(Verb.TAXON_ADD, taxon, by=by)
    return taxon


@transaction.atomic
def open_enclosure(*, code: str, name: str, is_on_show: bool = False, by: Person) -> Enclosure:
    """Open an enclosure.

    Refused when: its code is in the register.
    """
    require(by, Verb.ENCLOSURE_OPEN)
    _free(Enclosure, "code", code, "The enclosure was not opened.")
    enclosure = Enclosure(code=code, name=name, is_on_show=is_on_show)
    _write(enclosure, "The enclosure was not opened.")
    search.write(enclosure)
    record(Verb.ENCLOSURE_OPEN, enclosure, by=by)
    return enclosure


@transaction.atomic
def receive_animal(
    *,
    code: str,
    taxon: Taxon,
    sex: str,
    life_stage: str,
    enclosure: Enclosure,
    arrived_on: date,
    name: str = "",
    born_on: date | None = None,
    origin: str = "",
    owner: Institution | None = None,
    by: Person,
) -> Animal:
    """Receive an animal; one that was born on the day of its arrival was born here.

    Refused when: its code is in the register; it arrives in the future; it arrives before it is
    born.
    """
    require(by, Verb.ANIMAL_RECEIVE)
    what = "The animal was not received."
    _free(Animal, "code", code, what)
    check_days(arrived_on, born_on, what=what)
    animal = Animal(
        code=code,
        name=name,
        taxon=taxon,
        sex=sex,
        life_stage=life_stage,
        born_on=born_on,
        origin=origin,
        owner=owner,
        enclosure=enclosure,
        arrived_on=arrived_on,
    )
    _write(animal, what)
    event = first_event(animal, by=by)
    event.save(force_insert=True)
    search.write(animal)
    record(Verb.ANIMAL_RECEIVE, animal, by=by, after=animal.state, touched=[event])
    return animal


@transaction.atomic
def receive_group(
    *,
    code: str,
    name: str,
    sort: str,
    taxon: Taxon,
    life_stage: str,
    enclosure: Enclosure,
    arrived_on: date,
    males: int = 0,
    females: int = 0,
    unknown: int = 0,
    owner: Institution | None = None,
    by: Person,
) -> Group:
    """Receive a counted group.

    Refused when: its code is in the register; it arrives in the future; nobody is in it; a number
    is negative.
    """
    require(by, Verb.GROUP_RECEIVE)
    what = "The group was not received."
    _free(Group, "code", code, what)
    check_days(arrived_on, None, what=what)
    if Count(males, females, unknown).total == 0:
        raise Unsound(
            what,
            "Nobody is in it.",
            "Give how many animals it holds; those whose sex you do not know go under unknown.",
            fields={"unknown": "Give at least one animal."},
        )
    numbers: dict[str, Any] = {"males": males, "females": females, "unknown": unknown}
    group = Group(
        code=code,
        name=name,
        sort=sort,
        taxon=taxon,
        life_stage=life_stage,
        owner=owner,
        enclosure=enclosure,
        arrived_on=arrived_on,
        **numbers,
    )
    _write(group, what)
    event = first_event(group, by=by)
    event.save(force_insert=True)
    search.write(group)
    record(Verb.GROUP_RECEIVE, group, by=by, after=group.state, touched=[event])
    return group
