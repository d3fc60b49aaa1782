"""Pages of approvals: the list, and one approval on one page for who decides."""

from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext

from registry.approvals.brief import WAITING_READS, compared, stage_rows, waiting_of
from registry.approvals.checklists import READ_FOR_ITEMS, blank_items
from registry.approvals.forms import DEEDS, Decide
from registry.approvals.letters import letter_of
from registry.approvals.models import Approval
from registry.approvals.screens import screenings_of, unscreened
from registry.approvals.staging import stages_of
from registry.approvals.standing import inductions_of
from registry.approvals.weighing import approval_cautions, held_by, limit_sums
from registry.errors import Unsound
from registry.permissions import Verb, allowed, can
from registry.printing.answers import pdf_answer
from registry.projects.designed import standing
from registry.projects.models import Arm, Member, Project, Review
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

_LETTER = Path(__file__).parent.with_name("letter.typ")
_LIVE_ARMS = Prefetch(
    "plan__arms", Arm.objects.filter(is_dropped=False).select_related("taxon"), to_attr="live_arms"
)
INLINE = ("answer_change", "write_item", "comment")  # offered where they belong on the page
OUTCOMES = ("approve", "return", "refuse")


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
        .prefetch_related(*READ_FOR_ITEMS, _LIVE_ARMS)
        .order_by("pk")
    )
    sums = limit_sums(approval, projects)
    stages = stages_of(projects, is_planned=True)
    screenings = screenings_of(projects, stages)
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
        "units": [(one, standing(one.plan)) for one in projects],
        "sums": sums,
        "is_asking": is_asking,
        "staffs": [one for line in sums for one in line.staffs(is_asking=is_asking)],
        "cautions": approval_cautions(approval, projects),
        "screenings": screenings,
        "unscreened": unscreened(screenings, projects, [one.limit for one in sums])
        if approval.state == "drafted"
        else [],
        "stage_rows": stage_rows(projects, stages),
        "is_of_several": len(projects) > 1,
        "compared": compared(approval),
        "blank": blank_items(approval, projects),
        "items": approval.items.select_related("written_by"),
        "changes": approval.changes.select_related("asked_by", "answered_by"),
        "waiting": waiting_of(approval),
        "conditions": approval.conditions.select_related("met_by"),
        "pauses": approval.pauses.all(),
        "amendments": approval.amendments.all(),
        "deciders": approval.deciders.exclude(pk=approval.decided_by_id),
        "said": _said(approval, projects),
        "bookings": allowed(held_by(projects, "bookings"), person, Verb.BOOKING_SEE),
        "needs": inductions_of(projects, timezone.localdate()),
        "members": members,
        "seats": [(one, one.person_id in concerned) for one in seats],
        "may_decide": may_decide,
        "may_answer": "answer_change" in open_verbs,
        "may_write": "write_item" in open_verbs,
        "may_comment": "comment" in open_verbs,
        "decide_form": _decide_form(request, approval, sent=sent) if may_decide else None,
        "outcome": request.POST.get("outcome", ""),
        "acts": [
            act
            for act in acts_on(approval, person)
            if act["path"] not in INLINE and not (may_decide and act["path"] in OUTCOMES)
        ],
    }


def _said(approval: Approval, projects: list[Project]) -> list[dict[str, Any]]:
    """Give what reviewers and others said of it, oldest first."""
    reviews = Review.objects.filter(project__in=projects).select_related("reviewer")
    notes = [
        {
            "on": one.written_at,
            "by": one.reviewer.name,
            "text": one.remarks or gettext("Accepted, without remarks."),
            "is_review": True,
        }
        for one in reviews
    ]
    notes += [
        {"on": one.said_at, "by": one.said_by.name, "text": one.text, "is_review": False}
        for one in approval.comments.select_related("said_by")
    ]
    return sorted(notes, key=lambda one: one["on"])


def _decide_form(request: HttpRequest, approval: Approval, *, sent: bool) -> Decide:
    form = Decide(request.POST if sent else None, subject=approval, by=person_of(request))
    if not sent:
        give_back(request, form)
    return form


def _rows() -> QuerySet[Approval]:
    rows = Approval.objects.select_related("body", "permission", "asked_by", "decided_by", "amends")
    return rows.prefetch_related(*WAITING_READS)


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
