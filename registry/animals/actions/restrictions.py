"""Deeds on restrictions: keep off, and free again."""

from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.days import not_before
from registry.animals.inheriting import end_heirs, pass_on, told_apart_no_more, write_end
from registry.animals.models import Animal, Enclosure, Group, Restriction
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.transitions import locked, locked_all, move

type Subject = Animal | Group | Enclosure

_VERBS: dict[type[Subject], Verb] = {
    Animal: Verb.ANIMAL_RESTRICT,
    Group: Verb.GROUP_RESTRICT,
    Enclosure: Verb.ENCLOSURE_RESTRICT,
}


@transaction.atomic
def begin_restriction(
    subject: Subject,
    *,
    sort: str,
    strength: str = "",
    note: str = "",
    began_on: date,
    expected_end_on: date | None = None,
    earliest_end_on: date | None = None,
    by: Person,
) -> Restriction:
    """Keep off an animal, a group or an enclosure; one on a group is on each animal in it.

    Without a strength it has the usual one of its kind. One on an animal that was drawn from a
    group, lives with it and bears no mark is on the group too: nobody can tell it apart there.

    Refused when: it has left; it would begin before the arrival; it would be over before it
    begins; one of the same kind stands there already; a quarantine has no earliest end.
    """
    verb = _VERBS[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    what = _("No restriction was begun on %(subject)s.") % {"subject": subject}
    if isinstance(subject, Enclosure):
        # An enrolment locks its animals and reads what bars them: it must wait for this one.
        locked_all(Animal, subject.animals.values("pk"))
        locked_all(Group, subject.groups.values("pk"))
        before = after = ""
    else:
        before, after = move(subject, "restrict")
        first = subject.arrived_on
        not_before(began_on, first, f"{subject} arrived", what=what, field="began_on")
    if expected_end_on is not None:
        said = "it begins"
        not_before(expected_end_on, began_on, said, what=what, field="expected_end_on")
    if sort == Restriction.Sort.QUARANTINE and earliest_end_on is None:
        raise Unsound(
            what,
            "A quarantine needs the day before which nobody may end it.",
            "Give its earliest end, as the veterinary surgeon has set it.",
            fields={"earliest_end_on": "Give the earliest day on which it may end."},
        )
    if earliest_end_on is not None:
        said = "it begins"
        not_before(earliest_end_on, began_on, said, what=what, field="earliest_end_on")
    if subject.restrictions.filter(sort=sort, state="begun").exists():
        raise Conflict(
            what,
            _("“%(label)s” stands on it already.") % {"label": Restriction.Sort(sort).label},
            "Look at the one that stands; end it first if it must be another.",
        )
    restriction = Restriction(
        sort=sort,
        strength=strength or Restriction.usual(sort),
        note=note,
        began_on=began_on,
        expected_end_on=expected_end_on,
        earliest_end_on=earliest_end_on,
        begun_by=by,
    )
    setattr(restriction, str(subject.kind), subject)
    restriction.save(force_insert=True)
    touched = [restriction]
    group = told_apart_no_more(subject) if isinstance(subject, Animal) else None
    if group is not None:
        touched += pass_on([restriction], locked(group), began_on, by)
    record(verb, subject, by=by, before=before, after=after, touched=touched, sort=str(sort))
    return restriction


@transaction.atomic
def end_restriction(
    restriction: Restriction, *, ended_on: date, reason: str, by: Person
) -> Restriction:
    """End a restriction, and those that others have by it; the day on which it ends is free again.

    Refused when: it was ended; it would end before it began or before its earliest end; it would
    end in the future.
    """
    require(by, Verb.RESTRICTION_END, restriction)
    restriction = locked(restriction)
    before, after = move(restriction, "end")
    what = "The restriction was not ended."
    not_before(ended_on, restriction.began_on, "it began", what=what, field="ended_on")
    if restriction.earliest_end_on is not None:
        said = "it may end at the earliest"
        not_before(ended_on, restriction.earliest_end_on, said, what=what, field="ended_on")
    # One that was set for a coming day may be called off on the day on which it would begin.
    if ended_on > max(timezone.localdate(), restriction.began_on):
        raise Unsound(
            what,
            _("The day %(day)s has not come yet.") % {"day": ended_on.isoformat()},
            "End it on that day, or write the day as the expected end when you begin one.",
            fields={"ended_on": "This day has not come yet."},
        )
    write_end(restriction, ended_on, by)
    heirs = end_heirs(restriction, ended_on, by)
    record(
        Verb.RESTRICTION_END,
        restriction,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=heirs,
    )
    return restriction
