"""Pages of approvals: the list, one approval on one page for who decides, and a project's page."""

from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from registry.approvals.forms import DEEDS, PROJECT_DEEDS, Approve
from registry.approvals.letters import letter_of
from registry.approvals.models import Approval, Condition
from registry.approvals.screens import screenings_of
from registry.approvals.standing import NeedsOf, inductions_of
from registry.approvals.weighing import approval_cautions, held_by, limit_sums
from registry.errors import Unsound
from registry.ledger.lines import history_of, line_of
from registry.permissions import Verb, allowed, can, may
from registry.printing.answers import pdf_answer
from registry.projects.cautions import plan_cautions
from registry.projects.gaps import gaps_of
from registry.projects.models import Member, Project, Review
from registry.web import (
    acts_on,
    deed_page,
    deed_view,
    give_back,
    number_of,
    page_of,
    person_of,
    seen_or_404,
)

deed = deed_view(Approval, DEEDS)
project_deed = deed_view(Project, PROJECT_DEEDS)

_LETTER = Path(__file__).with_name("letter.typ")
OUTCOMES = ("approve", "return", "refuse")
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
def approval_list(request: HttpRequest) -> HttpResponse:
    """List the approvals that one may see; by state, body and project."""
    person = person_of(request)
    found = allowed(Approval.objects.all(), person, Verb.APPROVAL_SEE)
    asked = request.GET
    if state := asked.get("state"):
        found = found.filter(state=state)
    if (body := number_of(asked.get("body"))) is not None:
        found = found.filter(body=body)
    if (project := number_of(asked.get("project"))) is not None:
        found = found.filter(projects=project)
    found = found.select_related("body", "permission", "asked_by").prefetch_related(
        "projects__study"
    )
    return render(
        request,
        "approvals/list.html",
        {
            "page": page_of(request, found),
            "asked": asked,
            "states": Approval.lifecycle.choices,
        },
    )


def _about(request: HttpRequest, approval: Approval) -> dict[str, Any]:
    """Give all that an approval's page shows."""
    person = person_of(request)
    projects = list(
        approval.projects.select_related("study", "plan")
        .prefetch_related("plan__procedures", "plan__places")
        .order_by("pk")
    )
    sums = limit_sums(approval, projects)
    is_asking = approval.state in {"drafted", "submitted"}
    members = Member.objects.live().filter(project__in=projects).select_related("person")
    concerned = {one.person_id for one in members}
    seats = list(approval.body.seats.filter(ended_on=None).select_related("person"))
    open_verbs = can(approval, person)
    may_decide = "approve" in open_verbs
    sent = request.method == "POST"
    return {
        "approval": approval,
        "projects": projects,
        "sums": sums,
        "is_asking": is_asking,
        "staffs": [one for line in sums for one in line.staffs(is_asking=is_asking)],
        "cautions": approval_cautions(approval, projects),
        "screenings": screenings_of(projects),
        "conditions": approval.conditions.select_related("met_by"),
        "pauses": approval.pauses.all(),
        "amendments": approval.amendments.all(),
        "deciders": approval.deciders.exclude(pk=approval.decided_by_id),
        "reviews": Review.objects.filter(project__in=projects).select_related("reviewer"),
        "bookings": allowed(held_by(projects, "bookings"), person, Verb.BOOKING_SEE),
        "needs": inductions_of(projects, timezone.localdate()),
        "members": members,
        "seats": [(one, one.person_id in concerned) for one in seats],
        "may_decide": may_decide,
        "decide_form": _decide_form(request, approval, sent=sent) if may_decide else None,
        "outcome": request.POST.get("outcome", ""),
        "acts": [
            act for act in acts_on(approval, person) if not (may_decide and act["path"] in OUTCOMES)
        ],
    }


def _decide_form(request: HttpRequest, approval: Approval, *, sent: bool) -> Approve:
    form = Approve(request.POST if sent else None, subject=approval, by=person_of(request))
    if not sent:
        give_back(request, form)
    return form


def _rows() -> QuerySet[Approval]:
    return Approval.objects.select_related("body", "permission", "asked_by", "decided_by", "amends")


@login_required
def approval(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one approval whole; to its chair, with the decision beneath."""
    shown = seen_or_404(_rows(), person_of(request), pk)
    return render(request, "approvals/approval.html", {**_about(request, shown), "form": None})


@login_required
def letter(request: HttpRequest, pk: int) -> HttpResponse:
    """Print the letter of an approval, with the ledger's head at its foot."""
    shown = seen_or_404(_rows(), person_of(request), pk)
    return pdf_answer(_LETTER, letter_of(shown), name=f"approval-{shown.pk}")


@login_required
def decide(request: HttpRequest, pk: int) -> HttpResponse:
    """Record the decision that was chosen on the approval's page."""
    shown = seen_or_404(_rows(), person_of(request), pk)
    about = _about(request, shown)
    outcome = request.POST.get("outcome", "")
    if request.method == "POST" and outcome not in OUTCOMES:
        refusal = Unsound(
            "No decision was recorded.",
            "None of the three was chosen.",
            "Choose whether to approve, to ask for changes or to refuse.",
        )
        return render(
            request,
            "approvals/approval.html",
            {**about, "form": None, "refusal": refusal},
            status=422,
        )
    chosen = DEEDS[outcome if outcome in OUTCOMES else "approve"]
    return deed_page(request, chosen, shown, template="approvals/approval.html", extra=about)


# --------------------------------------------------------------------------- a project's own page


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
    is_ready = needs.is_covered_on(today)
    is_over = shown.state in {"closed", "abandoned"}
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
            "screenings": screenings_of([shown]) if reads_plan else None,
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
        "dataset": getattr(shown, "dataset", None),
    }


def _acts(shown: Project, person: Any, *, is_ready: bool) -> list[dict[str, Any]]:
    """Give the buttons, the next step first and filled."""
    acts = acts_on(shown, person)
    wanted = _NEXT.get(shown.state, ())
    if shown.state == "drafted" and gaps_of(shown):
        wanted = tuple(reversed(wanted))
    if shown.state == "accepted" and not is_ready:
        wanted = ("request_approval", "sign_agreement", "start")
    place = {path: n for n, path in enumerate(wanted)}
    return sorted(acts, key=lambda act: place.get(act["path"], len(place)))
