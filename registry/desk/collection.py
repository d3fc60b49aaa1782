"""How many animals are in use, at rest and out of bounds today, by taxon."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, F, Q, Sum, Value

from registry.animals.models import Animal, Group, Restriction, Taxon
from registry.oversight.models import Enrolment

_IN_USE = ("collecting", "halted")


@dataclass(frozen=True)
class Stand:
    """Animals of one taxon: out of bounds first, then in use, and the rest."""

    taxon: str
    url: str
    in_use: int
    at_rest: int
    out_of_bounds: int


def stands_on(day: date) -> list[Stand]:
    """Give where each taxon stands on a day; seven queries.

    What bars all research counts as out of bounds, on the animal, its group or its enclosure; what
    leaves observation open does not. Of a counted group, so many are in use as are enrolled.
    """
    found: defaultdict[int, Counter[str]] = defaultdict(Counter)
    for taxon, where, number in _numbers(day):
        found[taxon][where] += number
    taxa = Taxon.objects.filter(pk__in=found).order_by("common_name").only("pk", "common_name")
    return [
        Stand(
            taxon=taxon.common_name,
            url=taxon.get_absolute_url(),
            in_use=found[taxon.pk]["in_use"],
            at_rest=found[taxon.pk]["at_rest"],
            out_of_bounds=found[taxon.pk]["out_of_bounds"],
        )
        for taxon in taxa
    ]


def _numbers(day: date) -> Iterable[tuple[int, str, int]]:
    """Give numbers by taxon to be added up; what is barred or in use was counted as at rest.

    Those are few, so they are read once each: as queries within queries they would be worked out
    anew for every row.
    """
    barred, used = _barred_on(day), _used_on(day)
    for name, rows, number, size in (
        ("animal", Animal.objects.all(), Count("pk"), Value(1)),
        ("group", Group.objects.all(), Sum(_all_of("")), _all_of("")),
    ):
        kept: Any = rows.filter(left_on=None).order_by()
        for taxon, held in kept.values_list("taxon").annotate(held=number):
            yield taxon, "at_rest", held
        shut = Q(pk__in=barred[name]) | Q(enclosure__in=barred["enclosure"])
        out = set()
        for pk, taxon, held in kept.filter(shut).values_list("pk", "taxon", size):
            out.add(pk)
            yield taxon, "out_of_bounds", held
            yield taxon, "at_rest", -held
        for (pk, taxon, held), enrolled in used[name].items():
            if pk not in out:
                yield taxon, "in_use", min(enrolled, held)
                yield taxon, "at_rest", -min(enrolled, held)


def _all_of(path: str) -> Any:
    return F(f"{path}males") + F(f"{path}females") + F(f"{path}unknown")


def _barred_on(day: date) -> dict[str, set[int]]:
    in_force = Restriction.objects.in_force_on(day).exclude(
        strength=Restriction.Strength.OBSERVATION_ONLY
    )
    found: dict[str, set[int]] = {"animal": set(), "group": set(), "enclosure": set()}
    for row in in_force.order_by().values(*found):
        for name, pk in row.items():
            found[name] |= {pk} if pk is not None else set()
    return found


def _used_on(day: date) -> dict[str, Counter[tuple[int, int, int]]]:
    """Give how many running projects have enrolled of each animal or group, its taxon and size."""
    enrolled = Enrolment.objects.live_on(day).filter(
        state="enrolled",
        project__state__in=_IN_USE,
        animal__left_on=None,
        group__left_on=None,
    )
    rows = enrolled.order_by().values_list(
        "number", "animal", "animal__taxon", "group", "group__taxon", _all_of("group__")
    )
    used: dict[str, Counter[tuple[int, int, int]]] = {"animal": Counter(), "group": Counter()}
    for number, animal, taxon, group, group_taxon, held in rows:
        if animal:
            used["animal"][animal, taxon, 1] += number
        else:
            used["group"][group, group_taxon, held] += number
    return used
