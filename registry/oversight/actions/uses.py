"""Deeds on uses: what was done with an animal is recorded, and a wrong entry taken back."""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.models import Animal, Enclosure, Group
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.happened import Handled, Happening, must_be_past, write_uses
from registry.oversight.locks import still, still_subjects
from registry.oversight.models import Enrolment, Session, Use
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Procedure, Project
from registry.transitions import follows, locked, moment_said, reasoned

_NOT = "The use was not recorded."


@transaction.atomic
def record_use(
    project: Project,
    *,
    enrolment: Enrolment | None = None,
    animal: Animal | None = None,
    group: Group | None = None,
    procedure: Procedure,
    happened_at: datetime,
    place: Enclosure | None = None,
    number: int = 1,
    severity: int | None = None,
    session: Session | None = None,
    note: str = "",
    by: Person,
) -> Use:
    """Record what was done with an enrolled animal, or with any other; nothing is hidden.

    Whatever it passed opens a breach: no enrolment, a restriction, an approval's limits, the
    booking, a halt, the severity expected. An entry later than the house allows is marked as late.

    Refused when: it lies in the future; not exactly one animal or group is named; the enrolment or
    the session is of another project; the number is not 1 for an animal, or below 1; the project
    does not work with animals now.
    """
    require(by, Verb.PROJECT_RECORD_USE, project)
    project = still(project)
    follows(project, "record_use")
    one = _handled(project, enrolment, animal, group, number, happened_at)
    here = still_subjects([one.subject])
    one = Handled(here[one.subject.kind, one.subject.pk], one.enrolment, one.animals)
    must_be_past(happened_at, _NOT, "Enter it when it is done.")
    if session is not None and session.project_id != project.pk:
        raise Unsound(
            _NOT,
            _("Session %(session)s is of another project.") % {"session": session},
            "Choose a session of this project, or none.",
            fields={"session": "Of another project."},
        )
    people = list(session.observers.order_by("pk")) if session is not None else []
    uses, breaches = write_uses(
        Happening(
            project=project,
            moment=happened_at,
            procedure=procedure,
            place=place or (session.place if session else one.subject.enclosure),
            people=people or [by],
            severity=procedure.severity if severity is None else severity,
        ),
        [one],
        session=session,
        note=note.strip(),
        by=by,
    )
    use = uses[0]
    record(
        Verb.PROJECT_RECORD_USE,
        use,
        by=by,
        touched=breaches,
        breaches=[breach.pk for breach in breaches],
        days_late=use.days_late,
    )
    return use


def _handled(
    project: Project,
    enrolment: Enrolment | None,
    animal: Animal | None,
    group: Group | None,
    number: int,
    happened_at: datetime,
) -> Handled:
    """Give whom it happened to, with the enrolment under which it did, if there is one."""
    given = [one for one in (enrolment, animal, group) if one is not None]
    if len(given) != 1:
        raise Unsound(
            _NOT,
            "Not exactly one animal or group was named.",
            "Choose an enrolled animal, or name another one by its code.",
            fields={"enrolment": "Choose one, or name another animal."},
        )
    if enrolment is not None and enrolment.project_id != project.pk:
        raise Unsound(
            _NOT,
            _("%(enrolment)s is enrolled in another project.") % {"enrolment": enrolment},
            "Choose among this project's enrolments.",
            fields={"enrolment": "Of another project."},
        )
    subject: Any = enrolment.subject if enrolment is not None else animal or group
    if number < 1 or (isinstance(subject, Animal) and number != 1):
        raise Unsound(
            _NOT,
            "An animal is one; of a group it is at least one.",
            "Give the number of animals that were touched.",
            fields={"number": "1 for an animal, at least 1 of a group."},
        )
    if enrolment is None:
        day = timezone.localdate(happened_at)
        enrolment = (
            Enrolment.objects.live_on(day)
            .filter(project=project, animal=animal, group=group)
            .order_by("pk")
            .first()
        )
    return Handled(subject, enrolment, number)


@transaction.atomic
def reverse_use(use: Use, *, reason: str, by: Person) -> Use:
    """Take back a use that was wrongly entered, by an entry that reverses it.

    The first entry stays readable, and a breach that it opened is still to be explained.

    Refused when: there is no reason; it was taken back already; it is itself such an entry.
    """
    require(by, Verb.USE_REVERSE, use)
    project = still(use.project)
    use = locked(use)
    what = "The use was not taken back."
    taken_back = Use.objects.filter(reverses=use).select_related("recorded_by").first()
    if use.reverses_id is not None or taken_back is not None:
        raise Conflict(
            what,
            _("It was taken back already, by %(recorded_by)s on %(recorded_at)s.")
            % {
                "recorded_by": taken_back.recorded_by,
                "recorded_at": moment_said(taken_back.recorded_at),
            }
            if taken_back is not None
            else "It is itself the entry that takes one back.",
            "Look at the page again. If the use did happen, record it anew.",
        )
    reason = reasoned(use, "reverse", reason)
    reversing = Use.objects.create(
        project=project,
        animal=use.animal,
        group=use.group,
        number=use.number,
        enrolment=use.enrolment,
        session=use.session,
        procedure=use.procedure,
        place=use.place,
        happened_at=use.happened_at,
        recorded_by=by,
        severity=use.severity,
        note=reason,
        reverses=use,
    )
    record(
        Verb.USE_REVERSE,
        use,
        by=by,
        before="standing",
        after="reversed",
        reason=reason,
        touched=[reversing],
    )
    return reversing
