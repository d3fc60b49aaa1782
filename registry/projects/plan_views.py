"""Pages of a plan: whole, on one page, its versions, and the allocation that it sealed."""

from itertools import pairwise
from pathlib import Path
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from registry import design
from registry.errors import Unseen
from registry.permissions import Verb, may, require
from registry.printing.answers import pdf_answer
from registry.printing.pictures import MEDIA, picture_answer
from registry.projects.achieved import came_of, due_sessions, picture_of
from registry.projects.cautions import key_cautions, plan_cautions
from registry.projects.designed import (
    allocation_of,
    differences,
    is_drawn_again,
    live_arms,
    outline_of,
    standing,
)
from registry.projects.forms import ALLOCATION_DEEDS, DEEDS
from registry.projects.gaps import gaps_of
from registry.projects.kin import planned_kin
from registry.projects.models import Allocation, Arm, Plan, Project
from registry.web import acts_on, deed_page, deed_view, person_of, seen_or_404

allocation_deed = deed_view(Allocation, ALLOCATION_DEEDS)
NEXT = 5
"""Sessions of the schedule that the plan's page offers, one by one."""
_PAPER = Path(__file__).parent / "plan.typ"


def _readable(request: HttpRequest, pk: int) -> tuple[Project, Plan]:
    """Give a project and its plan with all that is read of it, to whoever may read it."""
    person = person_of(request)
    project = seen_or_404(Project.objects.select_related("study"), person, pk)
    require(person, Verb.PROJECT_SEE_PLAN, project)
    arms = Prefetch("arms", Arm.objects.select_related("taxon"))
    plan = (
        Plan.objects.select_related("drawn__drawn_from")
        .prefetch_related(arms, "procedures", "places", "keyholders", "design_parts", "versions")
        .get(project=project)
    )
    plan.project = project
    return project, plan


@login_required
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a plan whole, with its design, its cautions and what came of it."""
    project, shown = _readable(request, pk)
    members = list(project.members.live().with_codes().select_related("person"))
    return render(
        request,
        "projects/plan.html",
        {
            "project": project,
            "plan": shown,
            "arms": live_arms(shown),
            "parts": standing(shown),
            "allocation": getattr(shown, "drawn", None),
            "came": came_of(project, shown),
            "pictures": list(MEDIA),
            "due": due_sessions(project, shown)[:NEXT]
            if may(person_of(request), Verb.PROJECT_PLAN_SESSION, project)
            else [],
            "cautions": [*plan_cautions(shown), *key_cautions(shown, members)],
            "lacking": gaps_of(project) if project.state == "drafted" else [],
            "kin": planned_kin(project),
            "reviews": project.reviews.select_related("reviewer"),
            "members": members,
            "may_write": may(person_of(request), Verb.PROJECT_USE_DESIGN, project)
            and project.state == "drafted",
        },
    )


@login_required
def write_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Write the plan: one long form in sections."""
    person = person_of(request)
    project = seen_or_404(Project.objects.select_related("study", "plan"), person, pk)
    extra = {
        "cautions": plan_cautions(project.plan),
        "lacking": gaps_of(project),
        "kin": planned_kin(project),
    }
    return deed_page(
        request, DEEDS["write_plan"], project, template="projects/write_plan.html", extra=extra
    )


@login_required
def one_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the plan on one page, as it is printed: the essential items, filled from it."""
    project, shown = _readable(request, pk)
    return render(
        request,
        "projects/one_page.html",
        {"project": project, "facts": facts_of(project, shown), "plan": shown},
    )


@login_required
def one_page_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the plan on one page as a PDF, with the ledger's head at its foot."""
    project, shown = _readable(request, pk)
    return pdf_answer(_PAPER, facts_of(project, shown), name=f"plan-{project.pk}")


@login_required
def achieved_picture(request: HttpRequest, pk: int, form: str) -> HttpResponse:
    """Give the drawing of what was planned against what was achieved as a file."""
    project, shown = _readable(request, pk)
    title = _("Planned against achieved: %(project)s") % {"project": project}
    return picture_answer(picture_of(project, shown), form, title=title, name=f"achieved-{pk}")


def facts_of(project: Project, shown: Plan) -> dict[str, Any]:
    """Give the facts of the printed plan; what is not said is named, and nothing is made up."""
    items = design.essential_items(outline_of(shown))
    version = max(shown.versions.all(), key=lambda one: one.number, default=None)
    state = _("A draft: it may still change.")
    if version is not None:
        state = _("Version %(number)s, %(state)s; SHA-256 %(digest)s.") % {
            "number": version.number,
            "state": _("accepted and locked") if version.is_accepted else _("submitted"),
            "digest": version.digest,
        }
    missing = _("Not said yet: %(what)s.")
    return {
        "title": _("How is it to be done?"),
        "over": str(project),
        "state": state,
        "question": shown.hypothesis or project.study.aim,
        "items": [
            {
                "title": f"{one.number}. {one.title}",
                "text": one.text,
                "missing": missing % {"what": ", ".join(one.missing)} if one.missing else "",
            }
            for one in items
        ],
        "source": design.PLAN_SOURCE,
        "key": ", ".join(str(one) for one in shown.keyholders.all()),
        "key_head": _("The key is read by"),
        "caution": _(
            "The program reckons and warns; a named person decides. Local codes and licensed "
            "practice come first."
        ),
    }


@login_required
def version(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Show one version of a plan as it was submitted, and what changed since the one before."""
    project, shown = _readable(request, pk)
    versions = list(shown.versions.all())
    found = next((one for one in versions if one.number == number), None)
    if found is None:
        raise Unseen(
            "There is no such version.",
            _("No. %(number)s was never submitted.") % {"number": number},
            "Go back.",
        )
    before = next((a for a, b in pairwise(versions) if b == found), None)
    changed = differences(before.content, found.content) if before else []
    names = {one.name: one.verbose_name for one in Plan._meta.concrete_fields}
    return render(
        request,
        "projects/plan_version.html",
        {
            "project": project,
            "version": found,
            "before": before,
            "changed": [(names.get(name, name), old, new) for name, old, new in changed],
            "fields": [
                (names.get(name, name), old)
                for name, old, _new in differences(found.content, {})
                if old not in {"", "[]", "{}", "null", "false"}
            ],
        },
    )


@login_required
def allocation(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a sealed allocation: units and codes, who reads the key, and what proves it."""
    found = _allocation(request, pk)
    return _shown(request, found, {"is_key": False})


@login_required
def key(request: HttpRequest, pk: int) -> HttpResponse:
    """Show who gets what, to those who may read the key; it is nowhere for all others."""
    found = _allocation(request, pk)
    if not may(person_of(request), Verb.ALLOCATION_SEE_KEY, found):
        raise Unseen(
            "Nothing was found here.",
            "The key is not yours to read, or not yet.",
            "Ask one of the keyholders whom the plan names.",
        )
    extra = {"is_key": True, "drawn": allocation_of(found)}
    if found.state == "revealed":
        extra["is_drawn_again"] = is_drawn_again(found)
    return _shown(request, found, extra)


def _allocation(request: HttpRequest, pk: int) -> Allocation:
    rows = Allocation.objects.select_related(
        "plan__project__study", "drawn_from", "revealed_by"
    ).prefetch_related("plan__keyholders")
    return seen_or_404(rows, person_of(request), pk)


def _shown(request: HttpRequest, found: Allocation, extra: dict[str, Any]) -> HttpResponse:
    person = person_of(request)
    project = found.plan.project
    return render(
        request,
        "projects/allocation.html",
        {
            "allocation": found,
            "project": project,
            "units": [
                (unit, found.codes[unit], arm if extra["is_key"] else "", block, sequence)
                for unit, arm, block, sequence in found.places
            ],
            "may_see_key": may(person, Verb.ALLOCATION_SEE_KEY, found),
            "acts": acts_on(found, person),
            **extra,
        },
    )
