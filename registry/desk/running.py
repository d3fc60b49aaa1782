"""The projects that run now: who, how many animals, what they cost the keepers."""

from typing import Any

from django.db.models import Count, IntegerField, OuterRef, Prefetch, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from registry.oversight.models import Enrolment
from registry.permissions import Part, Verb, allowed
from registry.projects.models import Member, Project

RUNNING = ("collecting", "halted", "reporting")


def running_projects(person: Any) -> QuerySet[Project]:
    """Give the projects that collect, are halted or report, with students and enrolled animals."""
    enrolled = (
        Enrolment.objects.filter(project=OuterRef("pk"), state="enrolled")
        .order_by()
        .values("project")
        .annotate(animals=Sum("number"))
        .values("animals")
    )
    students = Member.objects.live().filter(part=Part.STUDENT).select_related("person")
    rows = allowed(Project.objects.filter(state__in=RUNNING), person, Verb.PROJECT_SEE)
    return (
        rows.select_related("study")
        .annotate(animals=Coalesce(Subquery(enrolled, output_field=IntegerField()), 0))
        .prefetch_related(Prefetch("members", students, to_attr="students"))
    )


def running_in_all(projects: QuerySet[Project]) -> dict[str, Any]:
    """Give how many projects run, and the keepers' hours a week of those that collect."""
    hours = Sum("keeper_hours_week", filter=Q(state="collecting"))
    return projects.order_by().aggregate(number=Count("pk"), hours=Coalesce(hours, 0.0))
