"""The line from question to answer, read from the ledger: deeds done, and those to come."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils import timezone

from registry.drawings import Line, Step, line
from registry.ledger.models import Entry, subject_of
from registry.permissions import Verb, allowed

CAPTIONS: dict[str, str] = {
    Verb.QUESTION_POST: "Question posted",
    Verb.QUESTION_TAKE_ON: "Taken on",
    Verb.QUESTION_MERGE: "Merged",
    Verb.QUESTION_PARK: "Parked",
    Verb.QUESTION_REOPEN: "Taken up again",
    Verb.QUESTION_DECLINE: "Declined",
    Verb.STUDY_OPEN: "Study opened",
    Verb.STUDY_OPEN_PROJECT: "Cohort opened",
    Verb.PROJECT_EXTEND: "Extended from the last cohort",
    Verb.PROJECT_SUBMIT: "Plan submitted",
    Verb.PROJECT_RETURN: "Plan returned",
    Verb.PROJECT_ACCEPT: "Plan accepted",
    Verb.APPROVAL_APPROVE: "Approved",
    Verb.APPROVAL_REFUSE: "Refused",
    Verb.APPROVAL_SUSPEND: "Approval suspended",
    Verb.APPROVAL_REINSTATE: "Approval reinstated",
    Verb.BOOKING_CONFIRM: "Animals booked",
    Verb.PROJECT_START: "Collecting begins",
    Verb.PROJECT_HALT: "Halted",
    Verb.PROJECT_RESUME: "Halt lifted",
    Verb.PROJECT_FINISH: "Collecting ends",
    Verb.DEPOSIT_ACCEPT: "Version accepted",
    Verb.VERSION_WITHDRAW: "Version withdrawn",
    Verb.QUESTION_ANSWER: "Answered",
    Verb.QUESTION_ANSWER_FROM_HELD: "Answered from data held",
    Verb.QUESTION_QUERY: "Answer queried",
    Verb.QUESTION_ACKNOWLEDGE: "Acknow\u00adledged",  # it may break where a column is narrow
    Verb.PROJECT_CLOSE: "Closed",
    Verb.PROJECT_ABANDON: "Abandoned",
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
            said=CAPTIONS[entry.verb],
            by=entry.actor.name,
            url=entry.get_absolute_url() if entry.number in open_to else "",
        )
        for entry in _told(entries)
    ]
    done = {entry.verb for entry in entries}
    steps += [
        Step(on=(due or {}).get(verb), said=CAPTIONS[verb], done=False)
        for verb in to_come
        if verb not in done
    ]
    return line(steps, timezone.localdate())
