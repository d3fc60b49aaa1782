"""How many animals are in use, at rest and out of bounds today, by taxon."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Case, Count, F, Q, Sum, Value, When

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
    for row in [*_animals(day), *_groups(day)]:
        here = found.setdefault(row["taxon"], Counter())
        for name in ("in_use", "at_rest", "out_of_bounds"):
            here[name] += row.get(name, 0)
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


def _barred(day: date, name: str) -> Q:
    """Say which are barred: by lists that are read once, and not by a look at each row."""
    in_force = Restriction.objects.in_force_on(day).exclude(
        strength=Restriction.Strength.OBSERVATION_ONLY
    )
    of_it = in_force.filter(**{f"{name}__isnull": False}).values(name)
    around_it = in_force.filter(enclosure__isnull=False).values("enclosure")
    return Q(pk__in=of_it) | Q(enclosure__isnull=False, enclosure__in=around_it)


def _enrolled(day: date) -> Any:
    return Enrolment.objects.live_on(day).filter(state="enrolled", project__state__in=_IN_USE)


def _animals(day: date) -> Iterable[dict[str, Any]]:
    kept = Animal.objects.filter(left_on=None).order_by()
    barred = _barred(day, "animal")
    enrolled = _enrolled(day).filter(animal__isnull=False).values("animal")
    for here, rows in (
        ("at_rest", kept),
        ("out_of_bounds", kept.filter(barred)),
        ("in_use", kept.filter(pk__in=enrolled).exclude(barred)),
    ):
        counted: Any = rows.values("taxon").annotate(number=Count("pk"))
        for row in counted:
            yield {"taxon": row["taxon"], here: row["number"]}
            if here != "at_rest":  # where it was counted first, with all others
                yield {"taxon": row["taxon"], "at_rest": -row["number"]}


def _groups(day: date) -> Iterable[dict[str, Any]]:
    groups = Group.objects.filter(left_on=None).order_by()
    enrolled: Any = _enrolled(day).filter(group__isnull=False).order_by()
    used = enrolled.values("group").annotate(number=Sum("number"))
    used_of = {row["group"]: row["number"] for row in used}
    barred = Case(When(_barred(day, "group"), then=Value(1)), default=Value(0))
    all_of_it = F("males") + F("females") + F("unknown")
    counted: Any = groups.annotate(barred=barred).values("taxon", "barred")
    for row in counted.annotate(number=Sum(all_of_it)):
        here = "out_of_bounds" if row["barred"] else "at_rest"
        yield {"taxon": row["taxon"], here: row["number"]}
    # What is enrolled was counted as at rest; there is no more of a group in use than it holds.
    in_use = groups.filter(pk__in=used_of).exclude(_barred(day, "group")).annotate(held=all_of_it)
    for pk, taxon, held in in_use.values_list("pk", "taxon", "held"):
        number = min(used_of[pk], held)
        yield {"taxon": taxon, "in_use": number, "at_rest": -number}
