"""What the collection can bear: animals of a taxon that can be had on some days."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet, Sum

from registry.animals.kin import effective_size, kinship_among
from registry.animals.models import Animal, Group, Restriction, Taxon
from registry.animals.pedigrees import lineage_of
from registry.oversight.models import Booking, Enrolment

_CLOSED = ("closed", "abandoned")


@dataclass(frozen=True)
class Bearing:
    """Animals of one taxon, over some days.

    Parameters
    ----------
    kept : int
        Animals that are in the collection on those days, those of counted groups among them.
    barred : int
        Of these, out of bounds on some of the days.
    in_use : int
        Of the rest, enrolled in another project on some of the days.
    enclosures : int
        Enclosures in which the free ones live.
    alike : float
        How many unrelated animals the first hundred free ones stand for where everything is
        inherited, by the recorded parents; animals of counted groups are left out.
    known : int
        How many were reckoned with for that.
    booked : int
        Bookings of their enclosures that were offered or confirmed for some of those days.
    """

    kept: int
    barred: int
    in_use: int
    enclosures: int
    alike: float
    known: int
    booked: int

    @property
    def are_related(self) -> bool:
        """Whether kinship takes away from their number."""
        return self.alike < self.known - 0.05

    @property
    def free(self) -> int:
        """Animals that can be had."""
        return self.kept - self.barred - self.in_use


def bearing_of(taxon: Taxon, first: date, last: date) -> Bearing:
    """Count what can be had of a taxon from one day to another; ten queries at the most.

    What bars all research on some of the days counts as out of bounds, on the animal, its group or
    its enclosure; what leaves observation open does not. Whether an approval covers the work is
    asked when animals are enrolled, of the project that asks.
    """
    animals = Animal.objects.filter(taxon=taxon, left_on=None).order_by()
    groups = Group.objects.filter(taxon=taxon, left_on=None).order_by()
    barring = Restriction.objects.filter(began_on__lte=last).exclude(
        strength=Restriction.Strength.OBSERVATION_ONLY
    )
    barring = barring.filter(Q(ended_on=None) | Q(ended_on__gt=first))
    barred_places = barring.filter(enclosure__isnull=False).values("enclosure")

    def barred(name: str) -> Q:
        own = barring.filter(**{f"{name}__isnull": False}).values(name)
        return Q(pk__in=own) | Q(enclosure__isnull=False, enclosure__in=barred_places)

    live = Enrolment.objects.filter(state="enrolled", from_on__lte=last).exclude(
        project__state__in=_CLOSED
    )
    live = live.filter(Q(left_on=None) | Q(left_on__gte=first))
    enrolled = live.filter(animal__isnull=False).values("animal")
    free = animals.exclude(barred("animal")).exclude(pk__in=enrolled)
    free_groups = groups.exclude(barred("group"))
    used = live.filter(group__in=free_groups).aggregate(number=Sum("number"))["number"] or 0
    held, left = _heads(groups), _heads(free_groups)
    number, unbarred = animals.count(), animals.exclude(barred("animal")).count()
    keys = list(free.values_list("pk", flat=True)[:100])
    places = {*free.values_list("enclosure", flat=True)}
    places |= {*free_groups.values_list("enclosure", flat=True)}
    return Bearing(
        kept=number + held,
        barred=number - unbarred + held - left,
        in_use=unbarred - free.count() + min(used, left),
        enclosures=len(places - {None}),
        alike=_alike(taxon, keys),
        known=len(keys),
        booked=Booking.objects.filter(
            places__in=places - {None},
            state__in=("offered", "confirmed"),
            starts_on__lte=last,
            ends_on__gte=first,
        )
        .distinct()
        .count(),
    )


def _heads(groups: QuerySet[Group]) -> int:
    counted = groups.aggregate(m=Sum("males"), f=Sum("females"), u=Sum("unknown"))
    return sum(value or 0 for value in counted.values())


def _alike(taxon: Taxon, keys: list[int]) -> float:
    if len(keys) < 2:
        return float(len(keys))
    pedigree = lineage_of([taxon], keys).pedigree
    return effective_size(kinship_among(pedigree, keys), 1.0)
