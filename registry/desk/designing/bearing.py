"""What the collection can bear: animals of a taxon that can be had on some days."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet, Sum

from registry.animals.kin import effective_size, kinship_among
from registry.animals.models import Animal, Group, Restriction, Taxon
from registry.animals.pedigrees import lineage_of
from registry.oversight.counting import LineUse
from registry.oversight.facts import needed_by
from registry.oversight.models import Booking, Enrolment
from registry.oversight.used import used_of
from registry.projects.models import Project

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
        How many unrelated animals the first hundred free ones stand for, by the recorded parents
        and the share of the outcome that is inherited; animals of counted groups are left out.
    known : int
        How many were reckoned with for that.
    singly : int
        Of the free ones, those that are told apart.
    booked : int
        Bookings of their enclosures that were offered or confirmed for some of those days.
    approved : int or None
        How many more of the taxon the approvals of a project leave on all of those days; None
        where no project was named, or it has no approval yet.
    """

    kept: int
    barred: int
    in_use: int
    enclosures: int
    alike: float
    known: int
    booked: int
    singly: int
    approved: int | None = None

    @property
    def are_related(self) -> bool:
        """Whether kinship takes away from their number."""
        return self.alike < self.known - 0.05

    @property
    def worth(self) -> int:
        """As how many unrelated ones those that can be had count.

        Of more than a hundred the others are taken to be as related as the first hundred; fewer
        than all, which relatedness takes less from, as if all were taken: the careful side.
        """
        if not self.are_related or not self.free:
            return self.free
        every = self.kept - self.barred - self.in_use
        lost = (1 - self.alike / self.known) * min(1.0, self.singly / every)
        return max(1, int(self.free * (1 - lost) + 1e-9))

    @property
    def free(self) -> int:
        """Animals that can be had."""
        found = self.kept - self.barred - self.in_use
        return found if self.approved is None else min(found, self.approved)


INHERITED = 0.4
"""The share of an outcome that is taken to be inherited where nobody says it: a middling one, a
convention of the house."""


def bearing_of(
    taxon: Taxon,
    first: date,
    last: date,
    project: Project | None = None,
    *,
    inherited: float = INHERITED,
) -> Bearing:
    """Count what can be had of a taxon from one day to another; ten queries at the most.

    What bars all research on some of the days counts as out of bounds, on the animal, its group or
    its enclosure; what leaves observation open does not. With a project its approvals are counted
    too, which takes some fifteen queries more.
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
    singly = free.count()
    number, unbarred = animals.count(), animals.exclude(barred("animal")).count()
    keys = list(free.values_list("pk", flat=True)[:100])
    places = {*free.values_list("enclosure", flat=True)}
    places |= {*free_groups.values_list("enclosure", flat=True)}
    return Bearing(
        kept=number + held,
        barred=number - unbarred + held - left,
        in_use=unbarred - singly + min(used, left),
        enclosures=len(places - {None}),
        alike=_alike(taxon, keys, inherited),
        known=len(keys),
        singly=singly,
        booked=Booking.objects.filter(
            places__in=places - {None},
            state__in=("offered", "confirmed"),
            starts_on__lte=last,
            ends_on__gte=first,
        )
        .distinct()
        .count(),
        approved=_approved(project, taxon, first, last) if project is not None else None,
    )


def _approved(project: Project, taxon: Taxon, first: date, last: date) -> int | None:
    """Give how many more animals of a taxon a project's approvals leave, over all who share them.

    Of several permissions the tightest decides; of one permission the widest approval that is in
    force on the first day and on the last; of an approval the tightest of its procedures.
    """
    needed = [one for one in needed_by(project, first) if one.approvals]
    used = used_of(needed)
    left: list[int] = []
    for permission in needed:
        rooms = [0]
        for approval in permission.approvals:
            lines = [one for one in approval.limits if one.kind.taxon == taxon.pk]
            if lines and approval.is_live_on(first) and approval.is_live_on(last):
                room = (one.max_animals - used.get(one.number, LineUse()).taken for one in lines)
                rooms.append(max(0, min(room)))
        left.append(max(rooms))
    return min(left, default=None)


def _heads(groups: QuerySet[Group]) -> int:
    counted = groups.aggregate(m=Sum("males"), f=Sum("females"), u=Sum("unknown"))
    return sum(value or 0 for value in counted.values())


def _alike(taxon: Taxon, keys: list[int], inherited: float) -> float:
    if len(keys) < 2:
        return float(len(keys))
    pedigree = lineage_of([taxon], keys).pedigree
    return effective_size(kinship_among(pedigree, keys), inherited)
