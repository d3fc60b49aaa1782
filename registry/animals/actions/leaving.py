"""Deeds that say that animals and groups are here no more."""

from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from registry.animals.arriving import count_of
from registry.animals.days import not_before, within_stay
from registry.animals.happening import settle, write_loss
from registry.animals.models import Animal, Event, Group
from registry.animals.pregnancy import unfit_to_travel
from registry.errors import Unsound
from registry.ledger.actions import record
from registry.people.models import Institution, Person
from registry.permissions import Verb, require
from registry.transitions import locked, move

LEAVING = (Event.Sort.DEPARTED, Event.Sort.DIED)


def _leave(
    subject: Animal | Group,
    *,
    sort: str,
    happened_on: date,
    institution: Institution | None,
    cause: str,
    note: str,
    by: Person,
) -> Event:
    """Write that a locked animal or group is here no more."""
    what = _("The departure or death of %(subject)s was not recorded.") % {"subject": subject}
    if sort not in LEAVING:
        raise Unsound(
            what,
            "It must have departed or died.",
            "Choose one of the two.",
            fields={"sort": "Choose one of the two."},
        )
    within_stay(subject, happened_on, what=what)
    if subject.born_on is not None:
        not_before(happened_on, subject.born_on, "it was born", what=what)
    last = subject.events.standing().last()
    if last is not None:
        said = "something later was recorded of it"
        not_before(happened_on, last.happened_on, said, what=what)
    died = sort == Event.Sort.DIED
    event = write_loss(
        subject,
        sort,
        happened_on,
        by,
        count_of(subject),
        enclosure=subject.enclosure,
        born_on=subject.born_on,
        institution=None if died else institution,
        cause=cause if died else "",
        note=note,
    )
    subject.left_on = happened_on
    subject.save(update_fields=["left_on"])
    settle(subject)
    return event


@transaction.atomic
def leave_animal(
    animal: Animal,
    *,
    sort: str,
    happened_on: date,
    institution: Institution | None = None,
    cause: str = "",
    vets_word: str = "",
    note: str = "",
    by: Person,
) -> Animal:
    """Record that an animal departed or died.

    Refused when: it has left already; it neither departed nor died; the day lies before its
    birth, its arrival or anything recorded since, or in the future; it departed when it was not
    fit to travel, and no veterinary surgeon's word is given.
    """
    require(by, Verb.ANIMAL_LEAVE, animal)
    animal = locked(animal)
    before, after = move(animal, "leave")
    unfit = unfit_to_travel(animal, happened_on) if sort == Event.Sort.DEPARTED else ""
    if unfit and not vets_word.strip():
        raise Unsound(
            _("The departure of %(animal)s was not recorded.") % {"animal": animal},
            unfit,
            "Do not send it. If it has gone already, or a veterinary surgeon allowed it, write who"
            " said so, and why.",
            fields={"vets_word": "Write which veterinary surgeon allowed it, and why."},
        )
    said = f"{note} Travelled by a veterinary surgeon’s word: {vets_word}".strip()
    event = _leave(
        animal,
        sort=sort,
        happened_on=happened_on,
        institution=institution,
        cause=cause,
        note=said if unfit else note,
        by=by,
    )
    record(Verb.ANIMAL_LEAVE, animal, by=by, before=before, after=after, touched=[event])
    return animal


@transaction.atomic
def leave_group(
    group: Group,
    *,
    sort: str,
    happened_on: date,
    institution: Institution | None = None,
    cause: str = "",
    note: str = "",
    by: Person,
) -> Group:
    """Record that all that were left of a group departed or died.

    Refused when: it has left already; it neither departed nor died; the day lies before its
    arrival or anything recorded since, or in the future.
    """
    require(by, Verb.GROUP_LEAVE, group)
    group = locked(group)
    before, after = move(group, "leave")
    event = _leave(
        group,
        sort=sort,
        happened_on=happened_on,
        institution=institution,
        cause=cause,
        note=note,
        by=by,
    )
    record(Verb.GROUP_LEAVE, group, by=by, before=before, after=after, touched=[event])
    return group
