"""A project's own page: its line, needs, people, plan, approvals, and what was done under them."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.approvals.brief import stage_rows, used_before
from registry.approvals.forms import PROJECT_DEEDS
from registry.approvals.models import Condition
from registry.approvals.screens import screenings_of
from registry.approvals.staging import stages_of
from registry.approvals.standing import NeedsOf
from registry.ledger.lines import history_of, line_of
from registry.permissions import Verb, allowed, may
from registry.projects.cautions import plan_cautions
from registry.projects.designed import standing
from registry.projects.gaps import gaps_of
from registry.projects.models import Project
from registry.web import acts_on, deed_view, person_of, seen_or_404

project_deed = deed_view(Project, PROJECT_DEEDS)

_NEWEST = 12
# What comes next on a project's page, by its state; the first that is open is the filled button.
_NEXT = {
    "drafted": ("submit", "write_plan"),
    "submitted": ("accept",),
    "accepted": ("start", "request_approval", "sign_agreement"),
    "collecting": ("plan_session", "record_use", "request_booking", "deposit"),
    "halted": ("resume",),
    "reporting": ("close", "deposit"),
}
_WAY = (
    Verb.PROJECT_SUBMIT,
    Verb.PROJECT_ACCEPT,
    Verb.APPROVAL_APPROVE,
    Verb.PROJECT_START,
    Verb.PROJECT_FINISH,
    Verb.DEPOSIT_ACCEPT,
    Verb.PROJECT_CLOSE,
)


@login_required
def project(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one project: its line, needs, people, plan, approvals and what was done under them."""
    person = person_of(request)
    rows = Project.objects.select_related("study", "plan", "extends", "opened_by")
    shown = seen_or_404(rows, person, pk)
    reads_plan = may(person, Verb.PROJECT_SEE_PLAN, shown)
    approvals = list(
        allowed(shown.approvals.all(), person, Verb.APPROVAL_SEE)
        .select_related("body")
        .prefetch_related(
            Prefetch("conditions", Condition.objects.filter(met_on=None), to_attr="unmet")
        )
    )
    needs, today = NeedsOf(shown), timezone.localdate()
    stages = stages_of([shown], is_planned=True) if reads_plan else {}
    is_ready = needs.is_covered_on(today)
    is_over = shown.state in {"closed", "abandoned"}
    shows_stages = reads_plan and not is_over
    return render(
        request,
        "approvals/project.html",
        {
            "project": shown,
            "line": line_of(
                person,
                [shown, *approvals],
                projects=[shown.pk],
                to_come=() if is_over else _WAY,
                due={
                    Verb.PROJECT_START: shown.starts_on,
                    Verb.PROJECT_FINISH: shown.ends_on,
                },
            ),
            "acts": _acts(shown, person, is_ready=is_ready),
            "needs": needs.on(today),
            "is_ready": is_ready,
            "history": history_of(shown, person),
            "members": shown.members.live().with_codes().select_related("person"),
            "reads_plan": reads_plan,
            "arms": shown.plan.arms.filter(is_dropped=False).select_related("taxon"),
            "lacking": gaps_of(shown) if reads_plan and shown.state == "drafted" else [],
            "cautions": plan_cautions(shown.plan) if reads_plan else [],
            "screenings": screenings_of([shown], stages) if reads_plan else None,
            "stage_rows": stage_rows([shown], stages) if shows_stages else [],
            "used_before": used_before(shown, stages[shown.pk]) if shows_stages else [],
            "approvals": approvals,
            "conditions": [one for approval in approvals for one in approval.unmet],
            "halts": shown.halts.select_related("halted_by", "vet_assent", "body_assent"),
            **_done_under(shown, person),
        },
    )


def _done_under(shown: Project, person: Any) -> dict[str, Any]:
    """Give what higher slices hold of a project, as far as this person may see it, newest first."""
    bookings = allowed(shown.bookings.all(), person, Verb.BOOKING_SEE)
    enrolments = allowed(shown.enrolments.all(), person, Verb.ENROLMENT_SEE)
    sessions = allowed(shown.sessions.all(), person, Verb.SESSION_SEE)
    breaches = allowed(shown.breaches.all(), person, Verb.BREACH_SEE)
    return {
        "bookings": bookings[:_NEWEST],
        "enrolments": enrolments.select_related("animal", "group")[:_NEWEST],
        "enrolments_count": enrolments.count(),
        "sessions": sessions.order_by("-planned_start")[:_NEWEST].select_related("place"),
        "sessions_count": sessions.count(),
        "breaches": breaches[:_NEWEST],
        "breaches_count": breaches.count(),
        "dataset": shown.datasets.filter(is_pooled=False).first(),
    }


def _acts(shown: Project, person: Any, *, is_ready: bool) -> list[dict[str, Any]]:
    """Give the buttons, the next step first and filled."""
    acts = acts_on(shown, person)
    if "schedule" not in standing(shown.plan):
        acts = [one for one in acts if one["path"] != "plan_schedule"]
    wanted = _NEXT.get(shown.state, ())
    if shown.state == "drafted" and gaps_of(shown):
        wanted = tuple(reversed(wanted))
    if shown.state == "accepted" and not is_ready:
        wanted = ("request_approval", "sign_agreement", "start")
    place = {path: n for n, path in enumerate(wanted)}
    return sorted(acts, key=lambda act: place.get(act["path"], len(place)))
