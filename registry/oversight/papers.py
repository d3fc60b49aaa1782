"""What people must hold to do the work, as limits are held against it."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from django.utils import timezone

from registry.approvals.models import PermissionKind
from registry.approvals.standing import NeedsOf
from registry.oversight.limits import (
    Code,
    EventFacts,
    NeededFacts,
    PaperFacts,
    Span,
    Thing,
    uncovered,
)
from registry.oversight.models import TrainingRule
from registry.people.models import Induction, Person
from registry.projects.models import Procedure


def papers_of(
    read: NeedsOf,
    kind: PermissionKind,
    day: date,
    doing: list[Person],
    of_others: dict[int, list[Induction]],
) -> tuple[PaperFacts, ...]:
    """Give who must hold a data agreement or an induction, and when each does."""
    holders = {
        one.person_id: one.person
        for one in read.students
        if one.began_on <= day and (one.ended_on is None or one.ended_on > day)
    }
    spans: dict[int, list[Span]] = {}
    if kind.satisfied_by == PermissionKind.SatisfiedBy.AGREEMENT:
        for signed in read.agreements:
            first = timezone.localdate(signed.signed_at)
            spans.setdefault(signed.person_id, []).append(Span(first, None))
    else:
        # The data are the student's to agree on; safety is everybody's who does the work.
        others = {one.pk: one for one in doing if one.pk not in holders}
        rows = [one for pk in others for one in of_others.get(pk, ()) if one.training_id is None]
        for given in [*read.inductions, *rows]:
            held = Span(given.given_on, given.expires_on)
            spans.setdefault(given.person_id, []).append(held)
        holders |= others
    return tuple(PaperFacts(str(one), tuple(spans.get(pk, ()))) for pk, one in holders.items())


def trainings_asked(
    rules: Iterable[TrainingRule],
    day: date,
    people: Sequence[Person],
    given: Mapping[int, Sequence[Induction]],
) -> tuple[NeededFacts, ...]:
    """Give each training that work on a day needs, and what those who do it hold of it.

    None where nobody is known to do the work: then nothing can be held against them.
    """
    if not people:
        return ()
    return tuple(
        NeededFacts(
            f"The training “{rule.training}”, asked for before “{rule.procedure}” by {rule.owner}",
            papers=tuple(
                PaperFacts(
                    str(one),
                    tuple(
                        Span(had.given_on, had.expires_on)
                        for had in given.get(one.pk, ())
                        if had.training_id == rule.training_id
                    ),
                )
                for one in people
            ),
            procedures=frozenset({rule.procedure_id}),
        )
        for rule in rules
        if rule.holds_on(day)
    )


def untrained(
    needed: Sequence[NeededFacts], day: date, procedures: Sequence[Procedure]
) -> list[str]:
    """Say what those who do the work lack, where they are trained for none of these procedures.

    A session is planned before its procedure is named: one that they may do is enough.
    """
    asked = [one for one in needed if one.procedures is not None]
    events = [EventFacts(day=day, procedure=Thing(one.pk, str(one))) for one in procedures]
    lacking = [
        [one.said for one in uncovered(event, asked, {}) if one.code == Code.UNTRAINED]
        for event in events
    ]
    return [said for one in lacking for said in one] if all(lacking) else []
