"""Deeds that take back what was last recorded, by a reversing event."""

from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from registry.animals.developing import developed
from registry.animals.happening import of, settle
from registry.animals.models import Animal, EggCase, Embryo, Event, Group
from registry.animals.undoing import never_here, untouched
from registry.errors import Conflict
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, move, reasoned

_NOTHING = "Nothing was taken back."


def _newest(subject: Animal | Group) -> Event:
    """Give the newest standing event, where it may be taken back on its own page."""
    newest = subject.events.standing().order_by("pk").last()
    if newest is None or newest.pk == subject.events.order_by("pk").values("pk")[0]["pk"]:
        raise Conflict(
            _NOTHING,
            _("Nothing was recorded of %(subject)s but that it came.") % {"subject": subject},
            "Record what happened since, or ask an administrator about one that never was here.",
        )
    other = newest.partner
    if other is not None:
        raise Conflict(
            _NOTHING,
            _("The newest event of %(subject)s is one side of what happened to %(subject_too)s.")
            % {"subject": subject, "subject_too": other.subject},
            _("Take it back on the page of %(subject)s.") % {"subject": other.subject},
        )
    if newest.sort in (Event.Sort.SENT, Event.Sort.RETURNED):
        raise Conflict(
            _NOTHING,
            _("The newest event of %(subject)s belongs to its custody by a partner.")
            % {"subject": subject},
            "End the custody, or give it again, and write what was wrong beside it.",
        )
    if newest.sort == Event.Sort.OWNED:
        raise Conflict(
            _NOTHING,
            _("The newest event of %(subject)s is that it changed hands.") % {"subject": subject},
            "Change the owner again, and write what was wrong beside it.",
        )
    if newest.sort in (Event.Sort.DRAWN, Event.Sort.SPLIT, Event.Sort.HATCHED, Event.Sort.BORE):
        others = " and ".join(str(one.subject) for one in newest.partners.all())
        raise Conflict(
            _NOTHING,
            _("%(others)s came of the newest event of %(subject)s, and is in the register.")
            % {"others": others, "subject": subject},
            "Let it join, or merge it into, this group again.",
        )
    return newest


def _reverse(event: Event, *, reason: str, by: Person, **facts: Any) -> Event:
    """Write the event that takes another back."""
    subject: Any = event.subject
    return Event.objects.create(
        **of(subject),
        sort=event.sort,
        happened_on=event.happened_on,
        enclosure=event.enclosure,
        males=-event.males,
        females=-event.females,
        unknown=-event.unknown,
        note=reason,
        recorded_by=by,
        reverses=event,
        **facts,
    )


def _take_back(subject: Animal | Group, *, reason: str, by: Person) -> Sequence[Any]:
    """Reverse the newest event of a locked record, and its partner, and give what was written."""
    newest = _newest(subject)
    touched: list[Any] = [newest, _reverse(newest, reason=reason, by=by)]
    subject.left_on = None
    subject.save(update_fields=["left_on"])
    for partner in newest.partners.select_related("animal", "group").order_by("pk"):
        other = locked(partner.subject)
        touched += [partner, _reverse(partner, reason=reason, by=by), other]
        settle(other)
    settle(subject)
    return touched


@transaction.atomic
def take_back_animal_event(animal: Animal, *, reason: str, by: Person) -> Animal:
    """Take back what was last recorded of an animal, by a reversing event.

    Refused when: nothing but its arrival was recorded; it is the other side of what happened to
    another record.
    """
    require(by, Verb.ANIMAL_TAKE_BACK, animal)
    animal = locked(animal)
    before, after = move(animal, "take_back")
    touched = _take_back(animal, reason=reason, by=by)
    record(
        Verb.ANIMAL_TAKE_BACK,
        animal,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=touched,
    )
    return animal


@transaction.atomic
def take_back_group_event(group: Group, *, reason: str, by: Person) -> Group:
    """Take back what was last recorded of a group, by a reversing event.

    Refused when: nothing but its arrival was recorded; an animal or a group came of it; it is the
    other side of what happened to another record.
    """
    require(by, Verb.GROUP_TAKE_BACK, group)
    group = locked(group)
    before, after = move(group, "take_back")
    touched = _take_back(group, reason=reason, by=by)
    record(
        Verb.GROUP_TAKE_BACK,
        group,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=touched,
    )
    return group


@transaction.atomic
def take_back_case_event(case: EggCase, *, reason: str, by: Person) -> EggCase:
    """Take back what was last recorded of an egg case, by a reversing event.

    A case whose record was closed is opened again by that, and nothing else is taken back; the
    young of a hatching that never was is said never to have been here.

    Refused when: nothing but its laying was recorded; it belongs to a custody; more is recorded of
    the young that hatched than that it came.
    """
    require(by, Verb.CASE_TAKE_BACK, case)
    case = locked(case)
    is_closed = case.state == "ended"
    reason = reasoned(case, "take_back", reason)
    before, after = move(case, "take_back")
    touched = [] if is_closed else _take_back_of_case(case, reason, by)
    placed = case.events.placing().order_by("happened_on", "pk").last()
    case.ended_on, case.enclosure = None, placed.enclosure if placed else None
    case.save(update_fields=["ended_on", "enclosure"])
    record(
        Verb.CASE_TAKE_BACK,
        case,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=touched,
    )
    return case


def _take_back_of_case(case: EggCase, reason: str, by: Person) -> list[Any]:
    """Reverse the newest event of a locked case, and give all that was written."""
    newest = case.events.standing().order_by("pk").last()
    if newest is None or newest.sort == Event.Sort.LAID:
        raise Conflict(
            _NOTHING,
            _("Nothing was recorded of %(case)s but that it was laid.") % {"case": case},
            "Record what happened since; if it never was, record that its embryos were lost.",
        )
    if newest.sort in (Event.Sort.SENT, Event.Sort.RETURNED):
        raise Conflict(
            _NOTHING,
            _("The newest event of %(case)s belongs to its custody by a partner.") % {"case": case},
            "End the custody, or give it again, and write what was wrong beside it.",
        )
    embryo = locked(newest.embryo) if newest.embryo else None
    touched: list[Any] = [newest, _reverse(newest, reason=reason, by=by, embryo=embryo)]
    if embryo is not None:
        touched += _never_hatched(embryo, reason, by) if newest.sort == Event.Sort.HATCHED else []
        told = developed(embryo.events.standing())
        is_none = newest.sort == Event.Sort.COUNTED
        embryo.outcome = Embryo.Outcome.MISTAKEN if is_none else Embryo.Outcome(told.outcome)
        embryo.is_fertile, embryo.ended_on = told.is_fertile, told.ended_on
        embryo.save(update_fields=["outcome", "is_fertile", "ended_on", "animal"])
        touched.append(embryo)
    return touched


def _never_hatched(embryo: Embryo, reason: str, by: Person) -> list[Any]:
    """Part an embryo from its young, which never was here."""
    hatched = embryo.animal
    assert hatched is not None  # the event says so
    young = locked(hatched)
    embryo.animal = None
    embryo.save(update_fields=["animal"])
    untouched(Animal, Q(pk=young.pk), "leave the hatching as it is", _NOTHING)
    move(young, "undo")
    return [young, *never_here([young], reason, by)["animal", young.pk]]
