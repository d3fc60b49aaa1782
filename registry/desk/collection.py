"""How many animals are in use, at rest and out of bounds today, by taxon."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Case, Count, Exists, F, IntegerField, OuterRef, Q, Sum, Value, When
from django.db.models.functions import Coalesce

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
    """Give where each taxon stands on a day; three queries.

    What bars all research counts as out of bounds, on the animal, its group or its enclosure; what
    leaves observation open does not. Of a counted group, so many are in use as are enrolled.
    """
    found: dict[int, Counter[str]] = {}
    for row in [*_animals(day), *_groups(day)]:
        here = found.setdefault(row["taxon"], Counter())
        for name in ("in_use", "at_rest", "out_of_bounds"):
            here[name] += row[name]
    return [
        Stand(
            taxon=taxon.common_name,
            url=taxon.get_absolute_url(),
            in_use=found[taxon.pk]["in_use"],
            at_rest=found[taxon.pk]["at_rest"],
            out_of_bounds=found[taxon.pk]["out_of_bounds"],
        )
        for taxon in Taxon.objects.filter(pk__in=found).order_by("common_name")
    ]


def _barring(day: date, name: str) -> Exists:
    in_force = Restriction.objects.in_force_on(day).exclude(
        strength=Restriction.Strength.OBSERVATION_ONLY
    )
    return Exists(in_force.filter(Q(**{name: OuterRef("pk")}) | Q(enclosure=OuterRef("enclosure"))))


def _enrolled(day: date) -> Any:
    return Enrolment.objects.live_on(day).filter(state="enrolled", project__state__in=_IN_USE)


def _animals(day: date) -> Iterable[dict[str, Any]]:
    counted: Any = (
        Animal.objects.filter(left_on=None)
        .order_by()
        .annotate(
            is_barred=_barring(day, "animal"),
            is_enrolled=Exists(_enrolled(day).filter(animal=OuterRef("pk"))),
        )
        .values("taxon")
        .annotate(
            out_of_bounds=Count("pk", filter=Q(is_barred=True)),
            in_use=Count("pk", filter=Q(is_barred=False, is_enrolled=True)),
            at_rest=Count("pk", filter=Q(is_barred=False, is_enrolled=False)),
        )
    )
    rows: Iterable[dict[str, Any]] = counted
    return rows


def _groups(day: date) -> Iterable[dict[str, Any]]:
    live = Q(enrolments__in=_enrolled(day))
    groups: Any = (
        Group.objects.filter(left_on=None)
        .order_by()
        .annotate(
            is_barred=_barring(day, "group"),
            all_of_it=F("males") + F("females") + F("unknown"),
            enrolled=Coalesce(Sum("enrolments__number", filter=live), 0),
        )
        .annotate(
            used=Case(
                When(is_barred=True, then=Value(0)),
                When(enrolled__gt=F("all_of_it"), then=F("all_of_it")),
                default=F("enrolled"),
                output_field=IntegerField(),
            )
        )
    )
    for one in groups:
        number = one.all_of_it
        yield {
            "taxon": one.taxon_id,
            "out_of_bounds": number if one.is_barred else 0,
            "in_use": one.used,
            "at_rest": 0 if one.is_barred else number - one.used,
        }
