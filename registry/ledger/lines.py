"""The line from question to answer, read from the ledger: deeds done, and those to come."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from registry.drawings import Line, Step, line
from registry.ledger.models import Entry, subject_of
from registry.permissions import Verb, allowed

CAPTIONS: dict[str, str | Promise] = {
    Verb.QUESTION_POST: _("Question posted"),
    Verb.QUESTION_TAKE_ON: _("Taken on"),
    Verb.QUESTION_MERGE: _("Merged"),
    Verb.QUESTION_PARK: _("Parked"),
    Verb.QUESTION_REOPEN: _("Taken up again"),
    Verb.QUESTION_DECLINE: _("Declined"),
    Verb.STUDY_OPEN: _("Study opened"),
    Verb.STUDY_OPEN_PROJECT: _("Cohort opened"),
    Verb.PROJECT_EXTEND: _("Extended from the last cohort"),
    Verb.PROJECT_SUBMIT: _("Plan submitted"),
    Verb.PROJECT_RETURN: _("Plan returned"),
    Verb.PROJECT_ACCEPT: _("Plan accepted"),
    Verb.APPROVAL_APPROVE: _("Approved"),
    Verb.APPROVAL_REFUSE: _("Refused"),
    Verb.APPROVAL_SUSPEND: _("Approval suspended"),
    Verb.APPROVAL_REINSTATE: _("Approval reinstated"),
    Verb.BOOKING_CONFIRM: _("Animals booked"),
    Verb.PROJECT_START: _("Collecting begins"),
    Verb.PROJECT_HALT: _("Halted"),
    Verb.PROJECT_RESUME: _("Halt lifted"),
    Verb.PROJECT_FINISH: _("Collecting ends"),
    Verb.DEPOSIT_ACCEPT: _("Version accepted"),
    Verb.VERSION_WITHDRAW: _("Version withdrawn"),
    Verb.QUESTION_ANSWER: _("Answered"),
    Verb.QUESTION_RENEW: _("Answer updated"),
    Verb.QUESTION_ANSWER_FROM_HELD: _("Answered from data held"),
    Verb.QUESTION_QUERY: _("Answer queried"),
    Verb.QUESTION_ACKNOWLEDGE: _("Acknow\u00adledged"),  # it may break where a column is narrow
    Verb.PROJECT_CLOSE: _("Closed"),
    Verb.PROJECT_ABANDON: _("Abandoned"),
}

# What is to come on the way from a question to its answer, in order.
WAY: tuple[str, ...] = (
    Verb.QUESTION_TAKE_ON,
    Verb.STUDY_OPEN,
    Verb.PROJECT_ACCEPT,
    Verb.APPROVAL_APPROVE,
    Verb.PROJECT_START,
    Verb.DEPOSIT_ACCEPT,
    Verb.QUESTION_ANSWER,
    Verb.QUESTION_ACKNOWLEDGE,
)


OF_ONE_COHORT: frozenset[str] = frozenset(
    {
        Verb.STUDY_OPEN_PROJECT,
        Verb.PROJECT_EXTEND,
        Verb.PROJECT_SUBMIT,
        Verb.PROJECT_RETURN,
        Verb.PROJECT_ACCEPT,
        Verb.BOOKING_CONFIRM,
        Verb.PROJECT_FINISH,
        Verb.PROJECT_CLOSE,
    }
)
"""Deeds that stand on a cohort's own line; on that of several cohorts they would hide the rest."""

ONCE: frozenset[str] = frozenset({Verb.APPROVAL_APPROVE, Verb.BOOKING_CONFIRM})
"""Deeds of which a cohort has several for one step of the way: the first stands for them."""


def _told(entries: list[Entry]) -> list[Entry]:
    """Leave out what is told elsewhere, or once already."""
    cohorts = {entry.project_number for entry in entries if entry.project_number is not None}
    told: list[Entry] = []
    seen: set[tuple[str, int | None]] = set()
    for entry in entries:
        step = (entry.verb, entry.project_number)
        is_again = entry.verb in ONCE and step in seen
        if is_again or (len(cohorts) > 1 and entry.verb in OF_ONE_COHORT):
            continue
        seen.add(step)
        told.append(entry)
    return told


def line_of(
    person: Any,
    subjects: Iterable[models.Model],
    *,
    projects: Iterable[int] = (),
    to_come: Sequence[str] = (),
    due: dict[str, date | None] | None = None,
) -> Line:
    """Draw the line of these objects and projects.

    Two queries: the entries, and which of them this person may open. `to_come` are verbs; each that
    was not done yet stands as a hollow mark, on its day in `due` where it has one.
    """
    here = Q(subject__in=[subject_of(one) for one in subjects]) | Q(
        project_number__in=list(projects)
    )
    entries = list(
        Entry.objects.filter(here, verb__in=list(CAPTIONS), is_confidential=False)
        # The first of two assents lifts no halt yet.
        .exclude(verb=Verb.PROJECT_RESUME, after="halted")
        .select_related("actor")
        .order_by("number")
    )
    numbers = [entry.number for entry in entries]
    open_to = set(
        allowed(Entry.objects.filter(number__in=numbers), person, Verb.ENTRY_SEE).values_list(
            "number", flat=True
        )
    )
    steps = [
        Step(
            on=timezone.localdate(entry.at),
            said=str(CAPTIONS[entry.verb]),
            by=entry.actor.name,
            url=entry.get_absolute_url() if entry.number in open_to else "",
        )
        for entry in _told(entries)
    ]
    done = {entry.verb for entry in entries}
    steps += [
        Step(on=(due or {}).get(verb), said=str(CAPTIONS[verb]), done=False)
        for verb in to_come
        if verb not in done
    ]
    return line(steps, timezone.localdate())


def history_of(shown: models.Model, asking: Any) -> str:
    """Give the name under which the ledger has a history that one may read, or nothing."""
    entries = allowed(Entry.objects.about(shown), asking, Verb.ENTRY_SEE)
    return subject_of(shown) if entries.exists() else ""
