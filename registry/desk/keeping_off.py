"""Whom it concerns when an animal of a running study is kept off: one read, for Today and mail."""

from datetime import date
from typing import Any

from django.db.models import Q, QuerySet

from registry.animals.models import Enclosure, Restriction
from registry.oversight.models import Enrolment
from registry.permissions import Role, projects_of


def barring_studies(news: QuerySet[Restriction], today: date) -> QuerySet[Restriction]:
    """Give which of some restrictions are in force and bar an animal of a running study."""
    return _barring(_in_force(news, today), _enrolled(today))


def kept_off_for(person: Any, news: QuerySet[Restriction], today: date) -> QuerySet[Restriction]:
    """Give those of them that concern a person who did not begin them; four queries at the most.

    That is a curator, a member of the project, and a keeper who looks after the enclosure; an
    enclosure for which nobody is named is looked after by every keeper.
    """
    news = _in_force(news, today).exclude(begun_by=person)
    if Role.CURATOR in person.roles:
        return _barring(news, _enrolled(today))
    mine = projects_of(person)
    found = _barring(news, _enrolled(today).filter(project__in=mine))
    if Role.KEEPER not in person.roles:
        return found
    kept = Enclosure.objects.filter(Q(keepers=person) | Q(keepers=None)).order_by().values("pk")
    there = Q(enclosure__in=kept) | Q(animal__enclosure__in=kept) | Q(group__enclosure__in=kept)
    return found | _barring(news.filter(there), _enrolled(today))


def _in_force(news: QuerySet[Restriction], today: date) -> QuerySet[Restriction]:
    return news.filter(state="begun", began_on__lte=today)


def _enrolled(today: date) -> QuerySet[Enrolment]:
    return Enrolment.objects.live_on(today).filter(state="enrolled").order_by()


def _barring(news: QuerySet[Restriction], enrolled: QuerySet[Enrolment]) -> QuerySet[Restriction]:
    """Give the news that lie on an animal in use, on its group, or on where it lives now.

    The news are few, so they are read once: as queries within a query they are asked for each row.
    """
    told = list(news.order_by().values_list("pk", "animal", "group", "enclosure"))
    animals, groups, places = ({row[at] for row in told} - {None} for at in (1, 2, 3))
    of_animals = Q(animal__in=animals) | Q(animal__state="kept", animal__enclosure__in=places)
    of_groups = Q(group__in=groups) | Q(group__state="kept", group__enclosure__in=places)
    asked = ("animal", "group", "animal__enclosure", "group__enclosure")
    used = list(enrolled.filter(of_animals | of_groups).values_list(*asked)) if told else []
    animals, groups, *within = ({row[at] for row in used} - {None} for at in range(4))
    bars = [
        pk
        for pk, animal, group, place in told
        if animal in animals or group in groups or place in within[0] | within[1]
    ]
    return Restriction.objects.filter(pk__in=bars)
