"""What people on the site need from an administrator."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from registry.desk.needs.need import Need, first, on, step_url
from registry.people.models import Person, Seat, Standing
from registry.permissions import Verb, allowed
from registry.projects.models import Member


def without_standing(person: Any, today: date) -> Iterator[Need]:
    """People who can sign in, and can do nothing: no standing, no seat, no part in a project."""
    here = OuterRef("pk")
    idle = allowed(Person.objects.real(), person, Verb.PERSON_GIVE_STANDING).filter(
        ~Exists(Standing.objects.filter(person=here, ended_on=None)),
        ~Exists(Seat.objects.filter(person=here, ended_on=None)),
        ~Exists(Member.objects.live().filter(person=here)),
        is_active=True,
    )
    for one in first(idle, "added_at"):
        yield Need(
            what=_("%(name)s has no standing") % {"name": one.name},
            why=_("They can sign in, and do nothing yet."),
            step=_("Give standing"),
            url=step_url(one, "give_standing"),
            since=on(one.added_at),
        )
