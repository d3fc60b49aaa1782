"""What restrictions need."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django.db.models import Q

from registry.animals.models import Restriction
from registry.desk.needs.need import Need, step_url
from registry.permissions import Role, Verb, allowed
from registry.tags import day


def to_end(person: Any, today: date) -> Iterator[Need]:
    """Restrictions that were expected to be over; for a vet also those that wait for the vet."""
    wanted = Q(expected_end_on__lte=today)
    if Role.VET in person.roles:
        wanted |= Q(strength=Restriction.Strength.VETS_WORD)
    begun = allowed(Restriction.objects.filter(state="begun"), person, Verb.RESTRICTION_END)
    for one in begun.filter(wanted).select_related("animal", "group", "enclosure", "begun_by"):
        is_vets = one.strength == Restriction.Strength.VETS_WORD
        yield Need(
            what=f"Keep off {one.subject}: "
            + ("only a veterinary surgeon ends it" if is_vets else "expected to be over"),
            why=f"{one.get_sort_display().capitalize()}, begun by {one.begun_by.name} on "
            f"{day(one.began_on)}. {one.note} It bars until it is ended.".replace("  ", " "),
            step="End it or let it stand",
            url=step_url(one, "end"),
            due=one.expected_end_on,
            since=one.began_on,
        )


def begun_by_oneself(person: Any, today: date) -> Iterator[Need]:
    """Restrictions that a keeper began and that still stand."""
    if Role.KEEPER not in person.roles or {Role.CURATOR, Role.VET} & person.roles:
        return
    begun = Restriction.objects.filter(state="begun", begun_by=person)
    for one in begun.select_related("animal", "group", "enclosure"):
        yield Need(
            what=f"Keep off {one.subject}: you began this, and it stands",
            why=f"{one.get_sort_display().capitalize()}. {one.note}".strip(),
            step="Look at it",
            url=one.get_absolute_url(),
            due=one.expected_end_on,
            since=one.began_on,
        )
