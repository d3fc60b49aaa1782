"""Deeds on whose an animal is: it changes hands, it is lent, a loan ends."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.animals.days import not_before, not_to_come, within_stay
from registry.animals.happening import of, write
from registry.animals.models import Animal, Event, Group, Loan
from registry.errors import Conflict, Unsound
from registry.ledger.actions import record
from registry.people.models import Institution, Person
from registry.permissions import Verb, require
from registry.transitions import locked, move

type Subject = Animal | Group

_LEND = {Animal: Verb.ANIMAL_LEND, Group: Verb.GROUP_LEND}
_OWN = {Animal: Verb.ANIMAL_CHANGE_OWNER, Group: Verb.GROUP_CHANGE_OWNER}


def _owned(
    subject: Subject, owner: Institution | None, day: date, by: Person, note: str = ""
) -> Event:
    """Write whose a locked animal or group is from a day on."""
    subject.owner = owner
    subject.save(update_fields=["owner"])
    return write(subject, Event.Sort.OWNED, day, by, institution=owner, note=note)


@transaction.atomic
def change_owner(
    subject: Subject, *, owner: Institution | None, happened_on: date, note: str = "", by: Person
) -> Subject:
    """Record that an animal or a group changed hands; without an owner it is this collection's.

    Refused when: it is theirs already; it is on loan; the day lies before its arrival or the last
    change of hands, or in the future.
    """
    verb = _OWN[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    before, after = move(subject, "change_owner")
    what = _("The owner of %(subject)s was not changed.") % {"subject": subject}
    within_stay(subject, happened_on, what=what)
    if subject.owner == owner:
        raise Unsound(
            what,
            _("It belongs to %(owner)s by the record already.")
            % {"owner": owner or "this collection"},
            "Nothing needs doing.",
            fields={"owner": "It is so already."},
        )
    if subject.loans.filter(state="lent").exists():
        raise Conflict(
            what,
            "It is on loan.",
            "End the loan, and say there to whom it was made over.",
        )
    _in_turn(subject, happened_on, what)
    event = _owned(subject, owner, happened_on, by, note)
    record(verb, subject, by=by, before=before, after=after, touched=[event])
    return subject


def _in_turn(subject: Subject, day: date, what: str, field: str = "happened_on") -> None:
    """Refuse a day before the last change of hands."""
    last = subject.events.standing().filter(sort=Event.Sort.OWNED).last()
    if last is not None:
        said = "it last changed hands"
        not_before(day, last.happened_on, said, what=what, field=field)


@transaction.atomic
def lend(
    subject: Subject,
    *,
    direction: str,
    institution: Institution,
    began_on: date,
    expected_end_on: date | None = None,
    terms: str,
    by: Person,
) -> Loan:
    """Record a loan: to this collection, whose owner is then the lender, or by it.

    A loan moves nobody: an animal that goes departs, and one that comes is received.

    Refused when: a loan that way stands; it is lent by this collection and belongs to another; it
    died here; the day lies before its arrival, or in the future; it would be over before it began.
    """
    verb = _LEND[type(subject)]
    require(by, verb, subject)
    subject = locked(subject)
    before, after = move(subject, "lend")
    what = _("The loan of %(subject)s was not recorded.") % {"subject": subject}
    within_stay(subject, began_on, what=what, field="began_on")
    if expected_end_on is not None:
        not_before(expected_end_on, began_on, "it begins", what=what, field="expected_end_on")
    if subject.loans.filter(direction=direction, state="lent").exists():
        raise Conflict(
            what,
            _("It is %(label)s already.") % {"label": Loan.Direction(direction).label},
            "Look at the loan that stands; end it first.",
        )
    if subject.events.standing().filter(sort=Event.Sort.DIED, animal__isnull=False).exists():
        raise Conflict(what, "It died here.", "Look at its page, and which animal is meant.")
    touched: list[Any] = []
    if direction == Loan.Direction.OUT and subject.owner is not None:
        raise Unsound(
            what,
            _("It belongs to %(owner)s: lending it on is for its owner to agree.")
            % {"owner": subject.owner},
            "Record what was agreed as the loan by its owner, or change the owner first.",
            fields={"direction": "It belongs to another."},
        )
    if direction == Loan.Direction.IN and subject.owner != institution:
        _in_turn(subject, began_on, what, "began_on")
        touched.append(_owned(subject, institution, began_on, by))
    loan = Loan.objects.create(
        **of(subject),
        direction=direction,
        institution=institution,
        began_on=began_on,
        expected_end_on=expected_end_on,
        terms=terms,
        recorded_by=by,
    )
    record(verb, subject, by=by, before=before, after=after, touched=[loan, *touched])
    return loan


@transaction.atomic
def end_loan(loan: Loan, *, outcome: str, ended_on: date, end_note: str = "", by: Person) -> Loan:
    """End a loan; what is made over belongs to who kept it from that day on.

    Refused when: it was ended; the day lies before it began or in the future; one that was lent to
    this collection is said to have gone back or died, and lives here by the record.
    """
    require(by, Verb.LOAN_END, loan)
    subject = locked(loan.subject)
    loan = locked(loan)
    before, after = move(loan, "end")
    what = "The loan was not ended."
    not_to_come(ended_on, what=what, field="ended_on")
    not_before(ended_on, loan.began_on, "it began", what=what, field="ended_on")
    is_over = outcome != Loan.Outcome.MADE_OVER
    if is_over and loan.direction == Loan.Direction.IN and subject.state == "kept":
        raise Unsound(
            what,
            _("%(subject)s lives here, by the register.") % {"subject": subject},
            "Record its death or departure on its own page first.",
            fields={"outcome": "This does not agree with the register."},
        )
    touched: list[Any] = []
    if not is_over:
        _in_turn(subject, ended_on, what, "ended_on")
        touched = [subject, _owned(subject, loan.holder, ended_on, by, end_note)]
    loan.outcome, loan.ended_on, loan.end_note = outcome, ended_on, end_note
    loan.ended_by, loan.end_recorded_at = by, timezone.now()
    loan.save(update_fields=["outcome", "ended_on", "end_note", "ended_by", "end_recorded_at"])
    record(Verb.LOAN_END, loan, by=by, before=before, after=after, touched=touched)
    return loan
