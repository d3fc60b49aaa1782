"""How many animals are in use, at rest and out of bounds today, by taxon."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, Q, Sum, Value

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
    found: dict[int, Counter[str]] = {}
    for taxon, where, number in _numbers(day):
        found.setdefault(taxon, Counter())[where] += number
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
    all_of_it = F("males") + F("females") + F("unknown")
    barred, used = _barred_on(day), _used_on(day)
    for name, rows, size in (
        ("animal", Animal.objects.filter(left_on=None), Value(1)),
        ("group", Group.objects.filter(left_on=None), all_of_it),
    ):
        kept: Any = rows.order_by()
        for taxon, held in kept.values_list("taxon").annotate(held=Sum(size)):
            yield taxon, "at_rest", held
        touched = Q(pk__in={*used[name], *barred[name]}) | Q(enclosure__in=barred["enclosure"])
        some = kept.filter(touched).annotate(held=size)
        for pk, taxon, enclosure, held in some.values_list("pk", "taxon", "enclosure", "held"):
            is_barred = pk in barred[name] or enclosure in barred["enclosure"]
            number = held if is_barred else min(used[name][pk], held)
            yield taxon, "out_of_bounds" if is_barred else "in_use", number
            yield taxon, "at_rest", -number


def _barred_on(day: date) -> dict[str, set[int]]:
    in_force = Restriction.objects.in_force_on(day).exclude(
        strength=Restriction.Strength.OBSERVATION_ONLY
    )
    found: dict[str, set[int]] = {"animal": set(), "group": set(), "enclosure": set()}
    for row in in_force.order_by().values(*found):
        for name, pk in row.items():
            found[name] |= {pk} if pk is not None else set()
    return found


def _used_on(day: date) -> dict[str, Counter[int]]:
    """Give how many of each animal, and of each group, running projects have enrolled."""
    enrolled = Enrolment.objects.live_on(day).filter(state="enrolled", project__state__in=_IN_USE)
    used: dict[str, Counter[int]] = {"animal": Counter(), "group": Counter()}
    for animal, group, number in enrolled.order_by().values_list("animal", "group", "number"):
        name, pk = ("animal", animal) if animal else ("group", group)
        used[name][pk] += number
    return used
