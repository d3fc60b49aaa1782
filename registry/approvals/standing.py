"""What a project needs, and whether it is live on a day: asked by pages, deeds and the archive."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Prefetch
from django.utils import timezone
from django.utils.translation import gettext as _

from registry.approvals.live import ApprovalFacts, Days, PauseFacts, each_day, live_on, merged
from registry.approvals.live import why_not as why_not_live
from registry.approvals.models import Approval, Limit, Need, PermissionKind
from registry.people.models import Induction
from registry.permissions import Part
from registry.projects.models import Agreement, Member, Project

_BY = PermissionKind.SatisfiedBy


@dataclass(frozen=True)
class NeedStanding:
    """How a permission that a project may need stands on a day.

    `is_needed` is None where nobody has said yet; `approvals` are those that are live on the day.
    """

    kind: PermissionKind
    is_needed: bool | None
    is_live: bool
    why: str
    approvals: tuple[Approval, ...] = ()

    @property
    def is_in_the_way(self) -> bool:
        """Whether work on that day would lack it."""
        return self.is_needed is None or (self.is_needed and not self.is_live)


def facts_of(approval: Approval) -> ApprovalFacts:
    """Give what decides when an approval is live; prefetch `pauses` for a list."""
    is_granted = approval.decided_at is not None and approval.state != "refused"
    granted_at = approval.decided_at if is_granted else None
    return ApprovalFacts(
        granted_on=timezone.localdate(granted_at) if granted_at else None,
        granted_at=granted_at,
        starts_on=approval.starts_on,
        ends_on=approval.ends_on,
        weekdays=approval.weekdays,
        superseded_on=approval.superseded_on,
        superseded_recorded_at=approval.superseded_recorded_at,
        ended_on=approval.ended_on,
        ended_recorded_at=approval.ended_recorded_at,
        pauses=tuple(
            PauseFacts(one.began_on, one.ended_on, one.recorded_at, one.end_recorded_at)
            for one in approval.pauses.all()
        ),
    )


@dataclass(frozen=True)
class NeedsOf:
    """All that decides how a project's needs stand, read once for any number of days.

    Ten queries. `known_by` leaves out what was recorded later. The approvals come with their
    pauses, places, people and limits (dropped ones left out) already read.
    """

    project: Project
    known_by: datetime | None = None
    kinds: list[PermissionKind] = field(init=False)
    needs: dict[int, Need] = field(init=False)
    approvals: list[tuple[Approval, ApprovalFacts]] = field(init=False)
    students: list[Member] = field(init=False)
    agreements: list[Agreement] = field(init=False)
    inductions: list[Induction] = field(init=False)

    def __post_init__(self) -> None:
        project = self.project
        needs = {one.permission_id: one for one in project.needs.all()}
        kinds = [
            kind
            for kind in PermissionKind.objects.all()
            if kind.is_always_asked or kind.pk in needs
        ]
        approvals = project.approvals.select_related("body", "permission").prefetch_related(
            "pauses",
            Prefetch(
                "limits",
                Limit.objects.filter(is_dropped=False).select_related("taxon", "procedure"),
            ),
            "places",
            "people",
        )
        students = list(
            project.members.filter(part=Part.STUDENT).select_related("person").order_by("pk")
        )
        people = [one.person_id for one in students]
        read = {
            "kinds": kinds,
            "needs": needs,
            "approvals": [(one, facts_of(one)) for one in approvals.order_by("pk")],
            "students": students,
            "agreements": list(project.agreements.all()),
            "inductions": list(Induction.objects.of_places().filter(person__in=people)),
        }
        for name, value in read.items():
            object.__setattr__(self, name, value)

    def on(self, day: date) -> list[NeedStanding]:
        """Give how each need stands on a day."""
        return [self._standing(kind, day) for kind in self.kinds]

    def is_covered_on(self, day: date) -> bool:
        """Say whether every needed permission is live, and one of them is a body's approval."""
        return not self.lacking_on(day)

    def lacking_on(self, day: date) -> list[str]:
        """Give what is not live on a day, in words; none where all is."""
        standings = self.on(day)
        lacking = [f"{one.kind}: {one.why}" for one in standings if one.is_in_the_way]
        if not any(one.is_needed and one.kind.satisfied_by == _BY.APPROVAL for one in standings):
            lacking.append(_("no approval of a body is needed, so nothing limits the work"))
        return lacking

    def _standing(self, kind: PermissionKind, day: date) -> NeedStanding:
        need = self.needs.get(kind.pk)
        live: tuple[Approval, ...] = ()
        if kind.satisfied_by == _BY.APPROVAL:
            live, why = self._approved(kind, day)
        elif kind.satisfied_by == _BY.AGREEMENT:
            why = self._unsigned(day)
        else:
            why = self._uninducted(day)
        if need is None:
            return NeedStanding(
                kind, None, not why, _("nobody has said yet whether it is needed"), live
            )
        if not need.is_needed:
            return NeedStanding(kind, False, not why, need.reason, live)
        return NeedStanding(kind, True, not why, why, live)

    def _approved(self, kind: PermissionKind, day: date) -> tuple[tuple[Approval, ...], str]:
        asked = [pair for pair in self.approvals if pair[0].permission_id == kind.pk]
        live = tuple(one for one, facts in asked if live_on(facts, day, self.known_by))
        if live:
            return live, ""
        if not asked:
            return (), _("no approval has been asked for")
        newest, facts = asked[-1]
        said = why_not_live(facts, day) or _("it was not known then")
        if facts.granted_on is None:
            said = _("it is %(state)s") % {"state": newest.get_state_display()}
        return (), _("“%(approval)s” is not live: %(why)s") % {"approval": newest, "why": said}

    def _students_on(self, day: date) -> list[Member]:
        return [
            one
            for one in self.students
            if one.began_on <= day and (one.ended_on is None or one.ended_on > day)
        ]

    def _unsigned(self, day: date) -> str:
        signed = {
            one.person_id
            for one in self.agreements
            if timezone.localdate(one.signed_at) <= day
            and (self.known_by is None or one.signed_at <= self.known_by)
        }
        return _missing(_("%(person)s has not signed"), self._students_on(day), signed)

    def _uninducted(self, day: date) -> str:
        inducted = {one.person_id for one in self.inductions if one.is_live_on(day)}
        return _missing(_("%(person)s has no live induction"), self._students_on(day), inducted)


def _missing(said: str, students: list[Member], done: set[int]) -> str:
    if not students:
        return _("there is no student")
    return "; ".join(said % {"person": one.person} for one in students if one.person_id not in done)


def inductions_of(projects: Sequence[Project], day: date) -> list[tuple[Project, NeedStanding]]:
    """Give how the inductions that each of several projects needs stand on a day; four queries."""
    kinds = list(PermissionKind.objects.filter(satisfied_by=_BY.INDUCTION))
    needs = Need.objects.filter(project__in=projects, permission__in=kinds)
    students = list(
        Member.objects.filter(project__in=projects, part=Part.STUDENT)
        .select_related("person")
        .order_by("pk")
    )
    people = [one.person_id for one in students]
    inductions = list(Induction.objects.of_places().filter(person__in=people))
    said = {(one.project_id, one.permission_id): one for one in needs}
    found = []
    for project in projects:
        own = {pk: need for (number, pk), need in said.items() if number == project.pk}
        read = NeedsOf.__new__(NeedsOf)
        for name, value in {
            "project": project,
            "known_by": None,
            "kinds": [kind for kind in kinds if kind.is_always_asked or kind.pk in own],
            "needs": own,
            "approvals": [],
            "students": [one for one in students if one.project_id == project.pk],
            "agreements": [],
            "inductions": inductions,
        }.items():
            object.__setattr__(read, name, value)
        found += [(project, one) for one in read.on(day)]
    return found


def covered_days(
    project: Project, first: date, last: date, known_by: datetime | None = None
) -> tuple[Days, ...]:
    """Give the runs of days, of those asked about, on which every needed permission is live."""
    needs = NeedsOf(project, known_by)
    return merged(day for day in each_day(first, last) if needs.is_covered_on(day))


def is_covered(project: Project, days: Iterable[date]) -> bool:
    """Say whether every needed permission is live on each of these days."""
    needs = NeedsOf(project)
    return all(needs.is_covered_on(day) for day in days)
