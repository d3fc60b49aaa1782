"""What the sessions of a dataset show of animals, held against the uses that are on record."""

from collections.abc import Iterable
from dataclasses import dataclass

from registry.oversight.models import Enrolment, Session, Use
from registry.projects.models import Project

type Seen = tuple[str, str]
"""The code of a session, and that of an animal or group that the data have in it."""


@dataclass(frozen=True)
class Unentered:
    """What is to be entered: sessions with their animals, in order of time; and what cannot be.

    `entered` counts what is on record already; `unknown` are pairs whose session was never held, or
    whose animal was never enrolled: the check of the data opened a breach for those.
    """

    sessions: list[tuple[Session, list[Enrolment]]]
    entered: int
    unknown: list[Seen]

    @property
    def uses(self) -> int:
        """How many uses that makes."""
        return sum(len(here) for _session, here in self.sessions)


def unentered(project: Project, seen: Iterable[Seen]) -> Unentered:
    """Say which animals of which sessions have no use on record yet; four queries.

    An entry that was taken back counts as entered: somebody said that it did not happen so.
    """
    sessions = {
        one.code: one
        for one in Session.objects.filter(project=project, state__in=["held", "abandoned"])
        .select_related("place")
        .prefetch_related("observers")
    }
    enrolments = {
        one.code: one
        for one in Enrolment.objects.filter(project=project).select_related(
            "animal__taxon", "group__taxon", "booking"
        )
    }
    on_record = set(
        Use.objects.told()
        .filter(session__project=project, enrolment__isnull=False)
        .values_list("session_id", "enrolment_id")
    )
    found: dict[int, list[Enrolment]] = {}
    entered, unknown = 0, []
    for pair in sorted(set(seen)):
        session, enrolment = sessions.get(pair[0]), enrolments.get(pair[1])
        if session is None or enrolment is None:
            unknown.append(pair)
        elif (session.pk, enrolment.pk) in on_record:
            entered += 1
        else:
            found.setdefault(session.pk, []).append(enrolment)
    by_number = {one.pk: one for one in sessions.values()}
    rows = [(by_number[pk], here) for pk, here in found.items()]
    rows.sort(key=lambda row: (row[0].started_at or row[0].planned_start, row[0].pk))
    return Unentered(rows, entered, unknown)
