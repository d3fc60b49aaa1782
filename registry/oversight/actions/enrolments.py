"""Deeds on enrolments: animals enter a project from a confirmed booking, and leave it again."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.days import not_before, not_to_come
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.oversight.bars import barred_from_enrolment, enrolling
from registry.oversight.counting import is_below, least_severity
from registry.oversight.happened import over_severity
from registry.oversight.limits import SEVERITIES, day_said
from registry.oversight.locks import still, still_subjects
from registry.oversight.models import BookedSubject, Booking, Breach, Enrolment, Use
from registry.people.models import Person
from registry.permissions import Verb, require
from registry.projects.models import Arm, Severity
from registry.search import index as search
from registry.transitions import follows, locked, move, reasoned

_NOT = "No animal was enrolled."


@transaction.atomic
def enrol_animals(
    booking: Booking,
    *,
    subjects: Sequence[BookedSubject],
    from_on: date,
    arm: Arm | None = None,
    unit: str = "",
    codes: Mapping[int, str] | None = None,
    number: int | None = None,
    by: Person,
) -> list[Enrolment]:
    """Enrol booked animals in the project from a day on; all of them, or none.

    `codes` gives the code of a subject by its number, else the animal's own code stands; `number`
    is how many of each group, else all that were booked.

    Refused when: the project is neither accepted nor collecting; the booking is not confirmed; the
    day is outside its dates; nothing is chosen, or something that is not booked; the arm is not in
    the plan, or of another taxon; a code is taken; an animal is enrolled already; more of a group
    is asked for than is booked; another treatment project holds the unit; a restriction bars it; a
    needed permission is not live on the day or does not cover it; an approval's numbers are used
    up, over all its projects; it went through a procedure in another project, and may not be used
    again.
    """
    require(by, Verb.BOOKING_ENROL, booking)
    project = still(booking.project)
    booking = locked(booking)
    booking.project = project
    chosen = booking.subjects.filter(pk__in=[one.pk for one in subjects]).order_by("pk")
    still_subjects([one.animal or one.group for one in chosen.select_related("animal", "group")])
    # Read anew: what was read before the locks may have changed while they were waited for.
    homes = ("animal__taxon", "animal__enclosure", "group__taxon", "group__enclosure")
    rows = list(chosen.select_related(*homes))
    follows(booking, "enrol")
    if project.state not in {"accepted", "collecting"}:
        raise Conflict(
            _NOT,
            _(
                "The project is %(state)s; animals enter it once its plan is accepted, and "
                "while it collects."
            )
            % {"state": project.get_state_display()},
            "Look at the project's page for its next step.",
        )
    _sound_choice(booking, subjects, rows, from_on, arm)
    said = barred_from_enrolment(booking, rows, from_on, number, unit=unit)
    _refuse(said)
    coded = _codes(booking, rows, codes or {})
    before, after = move(booking, "enrol")
    enrolments = [
        Enrolment.objects.create(
            project=project,
            booking=booking,
            animal=one.animal,
            group=one.group,
            number=enrolling(one, number),
            code=coded[one.pk],
            arm=arm,
            unit=unit.strip(),
            life_stage=_row(one).life_stage,
            from_on=from_on,
            enrolled_by=by,
        )
        for one in rows
    ]
    for enrolment in enrolments:
        search.write(enrolment)
    record(
        Verb.BOOKING_ENROL,
        booking,
        by=by,
        before=before,
        after=after,
        touched=enrolments,
        codes=[one.code for one in enrolments],
        from_on=from_on,
    )
    return enrolments


def _sound_choice(
    booking: Booking,
    asked: Sequence[BookedSubject],
    rows: Sequence[BookedSubject],
    from_on: date,
    arm: Arm | None,
) -> None:
    if not rows or len(rows) != len({one.pk for one in asked}):
        raise Unsound(
            _NOT,
            "Nothing was chosen." if not asked else "Something chosen is not in this booking.",
            "Choose among the animals of the booking, or ask the curator for another one.",
            fields={"subjects": "Choose among the animals of the booking."},
        )
    if not booking.starts_on <= from_on <= booking.ends_on:
        span = _("%(starts_on)s to %(ends_on)s") % {
            "starts_on": day_said(booking.starts_on),
            "ends_on": day_said(booking.ends_on),
        }
        raise Unsound(
            _NOT,
            _("The booking is from %(span)s, not %(from_on)s.")
            % {"span": span, "from_on": day_said(from_on)},
            "Give a day within the booking.",
            fields={"from_on": _("The booking is from %(span)s.") % {"span": span}},
        )
    if arm is None:
        return
    taxa = {_row(one).taxon_id for one in rows}
    if arm.plan.project_id != booking.project_id or arm.is_dropped or taxa != {arm.taxon_id}:
        raise Unsound(
            _NOT,
            _("“%(arm)s” is not in the plan, or is for %(taxon)s.")
            % {"arm": arm, "taxon": arm.taxon},
            "Choose a treatment or group of the plan that is for these animals.",
            fields={"arm": "Not in the plan, or for other animals."},
        )


def _row(subject: BookedSubject) -> Any:
    return subject.animal or subject.group


def _refuse(said: Mapping[int, Sequence[str]]) -> None:
    words = list(dict.fromkeys(one for sentences in said.values() for one in sentences))
    if words:
        raise Unsound(
            _NOT,
            " ".join(words),
            "Leave these animals out, or settle what bars them: an amended approval, another "
            "booking, or the end of a restriction.",
            fields={"subjects": " ".join(words)},
        )


def _codes(
    booking: Booking, rows: Sequence[BookedSubject], given: Mapping[int, str]
) -> dict[int, str]:
    """Give the code of each subject, once no other enrolment of the project has it."""
    coded = {one.pk: given.get(one.pk, "").strip() or _row(one).code for one in rows}
    held = set(
        Enrolment.objects.filter(project=booking.project, code__in=coded.values()).values_list(
            "code", flat=True
        )
    )
    taken = sorted(
        {code for code in coded.values() if code in held or [*coded.values()].count(code) > 1}
    )
    if taken:
        raise Conflict(
            _NOT,
            _("The data of this project name something else %(taken)s already.")
            % {"taken": ", ".join(taken)},
            "Give a code of its own to each: the data name the animals by it.",
            fields={"codes": _("Taken: %(taken)s.") % {"taken": ", ".join(taken)}},
        )
    return coded


# ----------------------------------------------------------------------------------------- leaving


def severities_of(enrolment: Enrolment) -> list[int]:
    """Give the actual severities of an enrolment's uses, those taken back left out."""
    return list(
        Use.objects.standing().filter(enrolment=enrolment).values_list("severity", flat=True)
    )


def _leave(
    enrolment: Enrolment,
    verb: Verb,
    *,
    left_on: date,
    actual_severity: int,
    reason: str,
    by: Person,
) -> Enrolment:
    """End an enrolment on its last day, with the highest severity that the animal went through."""
    project = still(enrolment.project)
    enrolment = locked(enrolment)
    what = _("%(enrolment)s did not leave the project.") % {"enrolment": enrolment}
    name = verb.split(".")[1]
    follows(enrolment, name)
    reason = reasoned(enrolment, name, reason)
    not_to_come(left_on, what=what, field="left_on")
    not_before(left_on, enrolment.from_on, "it entered the project", what=what, field="left_on")
    _after_last_use(enrolment, left_on, what)
    severities = severities_of(enrolment)
    if is_below(actual_severity, severities):
        least = SEVERITIES[least_severity(severities) or 0]
        raise Unsound(
            what,
            _(
                "Its uses reached %(least)s, and the actual severity is the highest that was "
                "reached."
            )
            % {"least": least},
            _("Give %(least)s or more; lesser events that add up may make it more.")
            % {"least": least},
            fields={"actual_severity": _("At least %(least)s.") % {"least": least}},
        )
    before, after = move(enrolment, name)
    enrolment.left_on, enrolment.left_recorded_at = left_on, timezone.now()
    enrolment.actual_severity = Severity(actual_severity)
    enrolment.save(update_fields=["left_on", "left_recorded_at", "actual_severity"])
    # What a use reached opened its breach at once; here it is what the uses add up to.
    found = (
        [] if actual_severity in severities else over_severity(project, left_on, actual_severity)
    )
    breaches = [
        Breach.objects.create(
            project=project,
            code=one.code,
            said=f"{enrolment.subject}, at its end in the project. {one.said}",
            approval_id=one.approval,
            animal=enrolment.animal,
            group=enrolment.group,
            happened_on=left_on,
        )
        for one in found
    ]
    record(
        verb,
        enrolment,
        by=by,
        before=before,
        after=after,
        reason=reason,
        touched=breaches,
        left_on=left_on,
        actual_severity=int(actual_severity),
    )
    return enrolment


def _after_last_use(enrolment: Enrolment, left_on: date, what: str) -> None:
    newest = (
        Use.objects.standing()
        .filter(enrolment=enrolment)
        .aggregate(newest=Max("happened_at"))["newest"]
    )
    if newest is not None and timezone.localdate(newest) > left_on:
        day = day_said(timezone.localdate(newest))
        raise Unsound(
            what,
            _("It was used on %(day)s, after that day.") % {"day": day},
            "Give that day or a later one.",
            fields={"left_on": _("It was used on %(day)s.") % {"day": day}},
        )


@transaction.atomic
def withdraw_animal(
    enrolment: Enrolment, *, left_on: date, reason: str, actual_severity: int, by: Person
) -> Enrolment:
    """Take an animal out of a project before its end, with the reason.

    Refused when: there is no reason; the day has not come, lies before it entered or before its
    last use; the severity is lower than its uses reached.
    """
    require(by, Verb.ENROLMENT_WITHDRAW, enrolment)
    return _leave(
        enrolment,
        Verb.ENROLMENT_WITHDRAW,
        left_on=left_on,
        actual_severity=actual_severity,
        reason=reason,
        by=by,
    )


@transaction.atomic
def discharge_animal(
    enrolment: Enrolment, *, left_on: date, actual_severity: int, by: Person
) -> Enrolment:
    """Let an animal go at the end of its part in the project.

    Refused when: the day has not come, lies before it entered or before its last use; the severity
    is lower than its uses reached.
    """
    require(by, Verb.ENROLMENT_DISCHARGE, enrolment)
    return _leave(
        enrolment,
        Verb.ENROLMENT_DISCHARGE,
        left_on=left_on,
        actual_severity=actual_severity,
        reason="",
        by=by,
    )
