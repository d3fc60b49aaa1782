"""Who lived with whom, and when: which animals could be the parent of a young one."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Q

from registry.animals.models import PLACING, Animal, Event, Group, Taxon


@dataclass(frozen=True)
class Stay:
    """Days in one enclosure, the last one not included; None while it lasts."""

    subject: Animal | Group
    enclosure: int
    first: date
    last: date | None

    def meets(self, other: "Stay") -> bool:
        """Say whether two stays share an enclosure and a day."""
        return (
            self.enclosure == other.enclosure
            and (self.last is None or other.first <= self.last)
            and (other.last is None or self.first <= other.last)
        )

    def within(self, first: date, last: date) -> "Stay | None":
        """Give the part of it within these days, where there is one."""
        begun = max(self.first, first)
        ended = last if self.last is None else min(self.last, last)
        return Stay(self.subject, self.enclosure, begun, ended) if begun <= ended else None


def window_of(taxon: Taxon, born_on: date) -> tuple[date, date] | None:
    """Give the days in which a young one may have been sired; None where that is not known.

    From the longest published period and the longest published storage of sperm before the birth
    on: where either is not known, nobody can be left out.
    """
    longest = taxon.period_most_d or taxon.period_least_d
    if longest is None or taxon.sperm_storage_d is None:
        return None
    return born_on - timedelta(days=longest + taxon.sperm_storage_d), born_on


def stays_of(taxon: Taxon) -> list[Stay]:
    """Give every stay of the animals and groups of a taxon; one query."""
    told = Event.objects.standing().filter(Q(animal__taxon=taxon) | Q(group__taxon=taxon))
    rows = told.filter(Q(enclosure__isnull=False) | Q(sort=Event.Sort.SENT), sort__in=PLACING)
    return _stays(rows.select_related("animal", "group").order_by("happened_on", "pk"))


def _stays(events: Iterable[Event]) -> list[Stay]:
    """Give the stays that events place; the last one ends when the record does."""
    lasting: dict[tuple[str, int], Stay] = {}
    found = []
    for event in events:
        subject = event.subject
        key = (str(subject.kind), subject.pk)
        if key in lasting:
            found.append(replace(lasting.pop(key), last=event.happened_on))
        if event.enclosure_id is not None:
            lasting[key] = Stay(subject, event.enclosure_id, event.happened_on, None)
    return [*found, *(replace(one, last=one.subject.left_on) for one in lasting.values())]


def others_possible(parent: Animal, partner: Animal, born_on: date, role: str) -> list[str] | None:
    """Give who else of the taxon could be the parent, by who lived with the other parent.

    None where it cannot be known: no window, or the partner has no recorded stay in it.
    """
    window = window_of(partner.taxon, born_on)
    if window is None:
        return None
    stays = [part for one in stays_of(partner.taxon) if (part := one.within(*window)) is not None]
    with_partner = [one for one in stays if one.subject == partner]
    if not with_partner:
        return None
    barred = "female" if role == "sire" else "male"
    met = {
        str(one.subject): one.subject
        for one in stays
        if one.subject not in (partner, parent)
        and not (isinstance(one.subject, Animal) and one.subject.sex == barred)
        and any(one.meets(other) for other in with_partner)
    }
    return sorted(met)
