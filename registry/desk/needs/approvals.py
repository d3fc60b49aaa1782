"""What approvals and their conditions need."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.urls import reverse
from django.utils.translation import gettext as _

from registry.approvals.brief import WAITING_READS, waiting_of
from registry.approvals.calendar import WARNED_D, is_warned_on
from registry.approvals.models import Approval, Condition, PermissionKind, Screening
from registry.approvals.models import Need as PermissionNeed
from registry.approvals.screens import screenings_of
from registry.desk.needs.need import Need, first, on, step_url
from registry.permissions import Part, Role, Verb, allowed, projects_of
from registry.projects.models import Project
from registry.saying import listed
from registry.tags import day, near

SOON_DAYS = 30
"""How early a condition is told: a house rule, no source."""
_SCREENED = [state for state, verb in Project.lifecycle.steps if verb == "screen"]


def to_request(person: Any, today: date) -> Iterator[Need]:
    """Permissions that one's own projects need and for which no approval was asked."""
    states = ["drafted", "submitted", "approved", "suspended"]
    asked = Approval.objects.filter(
        permission=OuterRef("permission"), projects=OuterRef("project"), state__in=states
    )
    open_states = [state for state, verb in Project.lifecycle.steps if verb == "request_approval"]
    mine = allowed(
        Project.objects.filter(state__in=open_states), person, Verb.PROJECT_REQUEST_APPROVAL
    )
    needed = PermissionNeed.objects.filter(
        ~Exists(asked),
        is_needed=True,
        permission__satisfied_by=PermissionKind.SatisfiedBy.APPROVAL,
        project__in=mine.order_by(),
    )
    refused = Approval.objects.filter(
        permission=OuterRef("permission"), projects=OuterRef("project"), state="refused"
    )
    needed = needed.annotate(was_refused=Exists(refused))
    for need in first(needed.select_related("project__study", "permission"), "project__starts_on"):
        yield Need(
            what=(
                _("Refused: %(permission)s, for %(project)s")
                if need.was_refused
                else _("Not asked for yet: %(permission)s, for %(project)s")
            )
            % {"permission": need.permission, "project": need.project},
            why=_("The project needs it, and may not start without it."),
            step=_("Ask again") if need.was_refused else _("Request the approval"),
            url=f"{step_url(need.project, 'request_approval')}?permission={need.permission_id}",
            due=need.project.starts_on,
        )


def to_submit(person: Any, today: date) -> Iterator[Need]:
    """Requests of one's own that are drafted, or that were returned for changes."""
    drafted = allowed(Approval.objects.filter(state="drafted"), person, Verb.APPROVAL_SUBMIT)
    for approval in first(drafted.select_related("body"), "starts_on"):
        yield Need(
            what=_("Drafted and not submitted: %(approval)s") % {"approval": approval},
            why=_("%(body)s decides when it has been submitted with its limits.")
            % {"body": approval.body},
            step=_("Finish the request"),
            url=approval.get_absolute_url(),
            due=approval.starts_on,
            since=on(approval.asked_at),
        )


def to_decide(person: Any, today: date) -> Iterator[Need]:
    """Requests before a body on which one sits; never for one's own project."""
    seats = person.seats.filter(ended_on=None)
    own = projects_of(person)
    waiting: Any = (
        Approval.objects.awaiting_decision()
        .filter(body__in=seats.values("body"))
        .exclude(pk__in=Approval.objects.filter(projects__in=own).values("pk"))
        .annotate(is_chair=Exists(seats.filter(body=OuterRef("body"), is_chair=True)))
        .select_related("body", "permission")
    )
    for approval in first(waiting, "starts_on"):
        yield Need(
            what=_("Before %(body)s: %(approval)s") % {"body": approval.body, "approval": approval},
            why=(
                _(
                    "Asked on %(asked)s; the work is to begin on %(begins)s."
                    " You record the decision."
                )
                if approval.is_chair
                else _(
                    "Asked on %(asked)s; the work is to begin on %(begins)s. The chair records it."
                )
            )
            % {"asked": day(approval.asked_at), "begins": day(approval.starts_on)},
            step=_("Decide") if approval.is_chair else _("Read the request"),
            url=reverse("approvals:decide", args=[approval.pk])
            if approval.is_chair
            else approval.get_absolute_url(),
            due=approval.starts_on,
        )


def expiring(person: Any, today: date) -> Iterator[Need]:
    """Approvals of one's own that run out: told 60, 30 and 7 days ahead, and in between."""
    soon = Approval.objects.expiring_by(today + timedelta(days=max(WARNED_D)))
    asking = Approval.objects.filter(amends=OuterRef("pk"), state__in=["drafted", "submitted"])
    mine: Any = soon.filter(
        Exists(
            Approval.projects.through.objects.filter(
                approval=OuterRef("pk"), project__in=projects_of(person)
            )
        )
    ).annotate(
        leads=Exists(
            Approval.projects.through.objects.filter(
                approval=OuterRef("pk"), project__in=projects_of(person, Part.LEAD)
            )
        ),
        asked_already=Exists(asking),
    )
    for approval in first(mine.select_related("body"), "ends_on"):
        asks = approval.leads and not approval.asked_already and approval.state == "approved"
        yield Need(
            what=_("An approval runs out %(near)s: %(approval)s")
            % {"near": near(approval.ends_on), "approval": approval},
            why=(
                _("After %(day)s nothing that it covers may go on. An amendment is under way.")
                if approval.asked_already
                else _(
                    "After %(day)s nothing that it covers may go on; %(body)s must decide before."
                )
            )
            % {"day": day(approval.ends_on), "body": approval.body},
            step=_("Ask for more time") if asks else _("See the approval"),
            url=step_url(approval, "amend") if asks else approval.get_absolute_url(),
            due=approval.ends_on,
            is_told_by_letter=is_warned_on(approval.ends_on, today),
        )


def decided_too_late(person: Any, today: date) -> Iterator[Need]:
    """Requests of one's own that no body can decide before a student's course is over."""
    own = projects_of(person)
    waiting = (
        Approval.objects.filter(state__in=["drafted", "submitted"])
        .filter(pk__in=Approval.objects.filter(projects__in=own).values("pk"))
        .select_related("body")
        .prefetch_related(*WAITING_READS)
    )
    for approval in first(waiting, "starts_on"):
        found = waiting_of(approval)
        if found is None or found.meeting is None or not found.too_late_for:
            continue
        name, ends_on = found.too_late_for[0]
        yield Need(
            what=_("Decided too late: %(approval)s") % {"approval": approval},
            why=_(
                "%(body)s can decide on %(meets)s at the earliest; the time of %(name)s is over on"
                " %(ends)s."
            )
            % {
                "body": approval.body,
                "meets": day(found.meeting.held_on),
                "name": name,
                "ends": day(ends_on),
            },
            step=_("See the calendar"),
            url=reverse("approvals:calendar"),
            due=found.meeting.papers_by,
        )


def to_screen(person: Any, today: date) -> Iterator[Need]:
    """Projects whose screenings are no longer of the facts, or lack where a body is asked."""
    asked = Approval.objects.filter(projects=OuterRef("pk"))
    theirs = allowed(Project.objects.filter(state__in=_SCREENED), person, Verb.PROJECT_SCREEN)
    own = projects_of(person)
    wanted = Project.objects.filter(
        Q(pk__in=own) | Q(pk__in=theirs.order_by().values("pk")), state__in=_SCREENED
    ).annotate(
        is_asked=Exists(asked.filter(state="submitted")),
        is_screened=Exists(Screening.objects.filter(project=OuterRef("pk"))),
    )
    wanted = wanted.filter(Q(is_asked=True) | Q(is_screened=True))
    found: Any = wanted.select_related("study", "plan").prefetch_related("plan__procedures")
    projects = list(first(found, "starts_on"))
    if not projects:
        return
    screens = {one.pk for one in theirs.filter(pk__in=[one.pk for one in projects])}
    standing = screenings_of(projects)
    for project in projects:
        stale = [one for one in standing.stale if one.screening.project_id == project.pk]
        missing = [one for one in standing.missing if one.project.pk == project.pk]
        if not stale and not (missing and project.is_asked and project.pk in screens):
            continue
        yield Need(
            what=(_("Screen again: %(project)s") if stale else _("Not screened yet: %(project)s"))
            % {"project": project},
            why=(
                _("Changed since: %(changed)s. No request goes to a body until then.")
                % {"changed": listed(sorted({said for one in stale for said in one.changed}))}
                if stale
                else _("A body is asked about it: %(missing)s.")
                % {"missing": listed([str(one) for one in missing])}
            ),
            step=_("Screen it") if project.pk in screens else _("See the project"),
            url=step_url(project, "screen")
            if project.pk in screens
            else project.get_absolute_url(),
            due=project.starts_on,
        )


def conditions(person: Any, today: date, within_days: int = SOON_DAYS) -> Iterator[Need]:
    """Conditions whose evidence is due: for the lead, who gives it, and for the curator."""
    giving = allowed(Approval.objects.all(), person, Verb.APPROVAL_GIVE_EVIDENCE).order_by()
    wanted = Q(approval__in=giving)
    if Role.CURATOR in person.roles:
        wanted = Q()
    due: Any = (
        Condition.objects.unmet()
        .filter(wanted, due_on__lte=today + timedelta(days=within_days))
        .annotate(gives=Exists(giving.filter(pk=OuterRef("approval"))))
        .select_related("approval__body")
    )
    for one in first(due, "due_on"):
        yield Need(
            what=_("A condition falls due: %(text)s") % {"text": one.text},
            why=_("Set by %(body)s on “%(approval)s”. No evidence was given yet.")
            % {"body": one.approval.body, "approval": one.approval},
            step=_("Give the evidence") if one.gives else _("See the approval"),
            url=f"{step_url(one.approval, 'give_evidence')}?condition={one.pk}"
            if one.gives
            else one.approval.get_absolute_url(),
            due=one.due_on,
            about=one,
        )
