"""Pages of studies: the list, one study with its cohorts side by side, the plan, assigning."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Prefetch, Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from registry.ledger.lines import WAY, line_of
from registry.people.models import Person
from registry.permissions import Part, Verb, allowed, may
from registry.projects.forms import DEEDS, OPEN, STUDY_DEEDS
from registry.projects.models import Arm, Member, Project, Study
from registry.questions.models import Interest
from registry.web import acts_on, deed_page, deed_view, number_of, page_of, person_of, seen_or_404

study_deed = deed_view(Study, STUDY_DEEDS)
deed = deed_view(Project, DEEDS)

_SUPERVISING = (Part.LEAD, Part.CO_SUPERVISOR)


def _live_members() -> Prefetch[Any]:
    return Prefetch("members", Member.objects.live().select_related("person"), to_attr="people")


def _live_arms(path: str) -> Prefetch[Any]:
    rows = Arm.objects.filter(is_dropped=False).select_related("taxon")
    return Prefetch(path, rows, to_attr="live_arms")


def supervisors_carrying() -> QuerySet[Person]:
    """Give the people who supervise running projects, each with how many they carry now."""
    running = Project.objects.running()
    carried = Count(
        "memberships",
        filter=Q(
            memberships__ended_on=None,
            memberships__part__in=_SUPERVISING,
            memberships__project__in=running,
        ),
    )
    found: QuerySet[Person] = (
        Person.objects.real().annotate(carries=carried).filter(carries__gt=0).order_by("-carries")
    )
    return found


@login_required
def study_list(request: HttpRequest) -> HttpResponse:
    """List the studies with their cohorts, and what each supervisor carries."""
    person = person_of(request)
    found = allowed(Study.objects.all(), person, Verb.STUDY_SEE)
    is_running = request.GET.get("running") == "yes"
    if is_running:
        found = found.filter(pk__in=Project.objects.running().values("study"))
    if (taxon := number_of(request.GET.get("taxon"))) is not None:
        found = found.filter(taxon=taxon)
    projects = Project.objects.prefetch_related(_live_members()).order_by("-starts_on", "-pk")
    found = found.select_related("taxon").prefetch_related(Prefetch("projects", projects))
    running = Project.objects.running()
    # One that is halted or reports costs the keepers nothing.
    working = running.exclude(state__in=["halted", "reporting"])
    return render(
        request,
        "projects/list.html",
        {
            "page": page_of(request, found),
            "is_running": is_running,
            "supervisors": supervisors_carrying(),
            "hours": working.aggregate(hours=Sum("keeper_hours_week"))["hours"] or 0,
            "running": running.count(),
            "may_open": may(person, Verb.STUDY_OPEN),
        },
    )


@login_required
def open_study(request: HttpRequest) -> HttpResponse:
    """Open a study."""
    return deed_page(request, OPEN, None)


@dataclass(frozen=True)
class Cohort:
    """One column of the cohorts side by side."""

    project: Project
    supervisors: list[str]
    students: list[str]
    arms: list[Arm]
    units_achieved: int
    animals_achieved: int
    versions: list[Any]
    breaches: int | None
    deviations: str

    @property
    def units_planned(self) -> int:
        """Experimental units of all treatments."""
        return sum(one.units for one in self.arms)

    @property
    def animals_planned(self) -> int:
        """Animals or eggs of all treatments."""
        return sum(one.animals for one in self.arms)


def _cohorts(person: Any, projects: Iterable[Project]) -> list[Cohort]:
    """Give the cohorts of a study; what others may see of each is asked once for all."""
    rows = list(projects)
    ids = [one.pk for one in rows]
    open_to = set(
        allowed(Project.objects.filter(pk__in=ids), person, Verb.PROJECT_SEE_PLAN).values_list(
            "pk", flat=True
        )
    )
    breaches = Counter(
        Project.objects.filter(pk__in=open_to, breaches__isnull=False).values_list("pk", flat=True)
    )
    return [_cohort(one, breaches[one.pk] if one.pk in open_to else None) for one in rows]


def _cohort(project: Project, breaches: int | None) -> Cohort:
    people: list[Member] = project.people  # type: ignore[attr-defined]  # why: from the prefetch
    enrolments: list[Any] = list(project.enrolments.all())
    own: Any = [one for one in project.datasets.all() if not one.is_pooled]
    report: Any = getattr(project, "close_report", None)
    return Cohort(
        project=project,
        supervisors=[one.person.name for one in people if one.part in _SUPERVISING],
        students=[one.person.name for one in people if one.part == Part.STUDENT],
        arms=project.plan.live_arms,  # type: ignore[attr-defined]  # why: from the prefetch
        units_achieved=len({one.unit or one.code for one in enrolments}),
        animals_achieved=sum(one.number for one in enrolments),
        versions=[version for dataset in own for version in dataset.versions.all()],
        breaches=breaches,
        deviations=report.deviations if report else "",
    )


@login_required
def study(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one study: its line, its cohorts side by side, its questions and dictionary."""
    person = person_of(request)
    shown = seen_or_404(Study.objects.select_related("taxon", "opened_by"), person, pk)
    projects = (
        shown.projects.select_related("plan", "close_report")
        .prefetch_related(
            _live_members(), _live_arms("plan__arms"), "enrolments", "datasets__versions"
        )
        .order_by("starts_on", "pk")
    )
    cohorts = _cohorts(person, projects)
    questions = list(shown.questions.all())
    is_open = any(one.state in {"posted", "taken_on", "answered"} for one in questions)
    return render(
        request,
        "projects/study.html",
        {
            "study": shown,
            "cohorts": cohorts,
            "questions": questions,
            "dictionaries": shown.dictionaries.all(),
            "pools": allowed(shown.pools.all(), person, Verb.POOL_SEE).prefetch_related(
                "sources", "mappings"
            ),
            "line": line_of(
                person,
                [shown, *questions],
                projects=[one.project.pk for one in cohorts],
                to_come=WAY if is_open else (),
                due={
                    Verb.QUESTION_ANSWER: min(
                        (one.wanted_by for one in questions if one.wanted_by), default=None
                    )
                },
            ),
            "acts": acts_on(shown, person),
            "extensible": _extensible(person, cohorts),
        },
    )


def _extensible(person: Any, cohorts: list[Cohort]) -> Project | None:
    """Give the newest cohort that this person may extend."""
    states = Project.lifecycle.states_before("extend")
    ripe = [one.project for one in cohorts if one.project.state in states]
    return ripe[-1] if ripe and may(person, Verb.PROJECT_EXTEND, ripe[-1]) else None


@login_required
def assign(request: HttpRequest, pk: int) -> HttpResponse:
    """Assign someone, beside who would like it and what each supervisor carries."""
    person = person_of(request)
    project = seen_or_404(Project.objects.select_related("study"), person, pk)
    interests = (
        Interest.objects.filter(question__in=project.study.questions.all(), ended_at=None)
        .select_related("person", "question")
        .order_by("said_at")
    )
    extra = {
        "interests": interests if may(person, Verb.QUESTION_SEE_INTEREST) else (),
        "supervisors": supervisors_carrying(),
        "members": project.members.live().with_codes().select_related("person"),
    }
    return deed_page(
        request, DEEDS["assign"], project, template="projects/assign.html", extra=extra
    )
