"""Deeds that bring a taxon, an enclosure, an animal or a group into the register."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.arriving import check_days, first_event, free, write_new
from registry.animals.days import not_to_come
from registry.animals.happening import in_being
from registry.animals.models import Animal, Enclosure, Group, Precision, Taxon
from registry.animals.stock import Count
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Institution, Person
from registry.permissions import Role, Verb, require
from registry.search import index as search
from registry.transitions import locked


@transaction.atomic
def add_taxon(
    *,
    scientific_name: str,
    common_name: str,
    taxon_class: str,
    source: str = "",
    other_names: str = "",
    breeding: str = "",
    period_least_d: int | None = None,
    period_most_d: int | None = None,
    period_source: str = "",
    sperm_storage_d: int | None = None,
    sperm_storage_source: str = "",
    by: Person,
) -> Taxon:
    """Add a taxon; of its period the shortest published is reckoned with.

    Refused when: its scientific name is in the register; a period or a window has no source; the
    longest period is shorter than the shortest.
    """
    require(by, Verb.TAXON_ADD)
    scientific_name = " ".join(scientific_name.split())
    free(Taxon, "scientific_name", scientific_name, "The taxon was not added.")
    _sourced("period", period_least_d or period_most_d, period_source)
    _sourced("sperm_storage", sperm_storage_d, sperm_storage_source)
    if period_most_d is not None and (period_least_d is None or period_most_d < period_least_d):
        raise Unsound(
            "The taxon was not added.",
            "The longest period must have a shortest one, and be no shorter.",
            "Give both, the shorter one first; one alone is the shortest.",
            fields={"period_most_d": "It must be no shorter than the shortest."},
        )
    taxon = Taxon(
        scientific_name=scientific_name,
        common_name=common_name,
        other_names=other_names,
        taxon_class=taxon_class,
        source=source,
        breeding=breeding,
        period_least_d=period_least_d,
        period_most_d=period_most_d,
        period_source=period_source,
        sperm_storage_d=sperm_storage_d,
        sperm_storage_source=sperm_storage_source,
    )
    write_new(taxon, "The taxon was not added.")
    search.write(taxon)
    record(Verb.TAXON_ADD, taxon, by=by)
    return taxon


def _sourced(name: str, days: int | None, source: str) -> None:
    """Refuse a number of days without its source."""
    if days is not None and not source.strip():
        raise Unsound(
            "The taxon was not added.",
            "A number of days without its source cannot be relied on.",
            "Say where it was published; leave it blank where it is not known.",
            fields={f"{name}_source": "Name the source."},
        )


@transaction.atomic
def open_enclosure(
    *,
    code: str,
    name: str,
    is_on_show: bool = False,
    opened_on: date | None = None,
    by: Person,
) -> Enclosure:
    """Open an enclosure; without a day it counts as having been there always.

    Refused when: its code is in the register; it opens in the future.
    """
    require(by, Verb.ENCLOSURE_OPEN)
    free(Enclosure, "code", code, "The enclosure was not opened.")
    if opened_on is not None:
        not_to_come(opened_on, what="The enclosure was not opened.", field="opened_on")
    enclosure = Enclosure(code=code, name=name, is_on_show=is_on_show, opened_on=opened_on)
    write_new(enclosure, "The enclosure was not opened.")
    search.write(enclosure)
    record(Verb.ENCLOSURE_OPEN, enclosure, by=by)
    return enclosure


@transaction.atomic
def name_keepers(enclosure: Enclosure, *, keepers: Iterable[Person], by: Person) -> Enclosure:
    """Say who looks after an enclosure: they hear when an animal of a study in it is kept off.

    Where nobody is named, every keeper is told.

    Refused when: someone who is named holds no standing as a keeper.
    """
    require(by, Verb.ENCLOSURE_NAME_KEEPERS, enclosure)
    enclosure = locked(enclosure)
    named = {one.pk: one for one in keepers}
    held = Person.objects.with_standing(Role.KEEPER).filter(pk__in=named)
    others = named.keys() - set(held.values_list("pk", flat=True))
    if others:
        raise Unsound(
            "Nothing was changed.",
            _("%(others)s: no keeper, by the register.")
            % {"others": ", ".join(sorted(named[pk].name for pk in others))},
            "Name keepers alone, or ask an administrator to give the standing first.",
            fields={"keepers": "Choose keepers."},
        )
    enclosure.keepers.set(named.values())
    record(Verb.ENCLOSURE_NAME_KEEPERS, enclosure, by=by, keepers=sorted(named))
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
    born_precision: str = Precision.DAY,
    origin: str = "",
    owner: Institution | None = None,
    by: Person,
) -> Animal:
    """Receive an animal; one that was born on the day of its arrival was born here.

    Refused when: its code is in the register; it arrives in the future, before it is born, or
    before the enclosure existed.
    """
    require(by, Verb.ANIMAL_RECEIVE)
    what = "The animal was not received."
    free(Animal, "code", code, what)
    check_days(arrived_on, born_on, what=what)
    in_being(enclosure, arrived_on, what=what)
    animal = Animal(
        code=code,
        name=name,
        taxon=taxon,
        sex=sex,
        life_stage=life_stage,
        born_on=born_on,
        born_precision=born_precision,
        origin=origin,
        owner=owner,
        enclosure=enclosure,
        arrived_on=arrived_on,
    )
    write_new(animal, what)
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
    is_estimated: bool = False,
    born_on: date | None = None,
    born_precision: str = Precision.DAY,
    owner: Institution | None = None,
    by: Person,
) -> Group:
    """Receive a counted group.

    Refused when: its code is in the register; it arrives in the future, before it is born, or
    before the enclosure existed; nobody is in it; a number is negative.
    """
    require(by, Verb.GROUP_RECEIVE)
    what = "The group was not received."
    free(Group, "code", code, what)
    check_days(arrived_on, born_on, what=what)
    in_being(enclosure, arrived_on, what=what)
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
        is_estimated=is_estimated,
        born_on=born_on,
        born_precision=born_precision,
        **numbers,
    )
    write_new(group, what)
    event = first_event(group, by=by)
    event.save(force_insert=True)
    search.write(group)
    record(Verb.GROUP_RECEIVE, group, by=by, after=group.state, touched=[event])
    return group
