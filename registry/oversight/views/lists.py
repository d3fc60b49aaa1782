"""What the lists of this slice share: narrowing by state, project and animal."""

from typing import Any

from django.db.models import Q, QuerySet
from django.http import QueryDict

from registry.permissions import allowed
from registry.projects.models import Project
from registry.web import number_of


def narrowed[Q_: QuerySet[Any]](rows: Q_, asked: QueryDict) -> Q_:
    """Narrow a list to the state and the project that the address asks for."""
    if state := asked.get("state"):
        rows = rows.filter(state=state)
    if (project := number_of(asked.get("project"))) is not None:
        rows = rows.filter(project=project)
    return rows


def of_animal[Q_: QuerySet[Any]](rows: Q_, asked: QueryDict) -> Q_:
    """Narrow a list to the animal or group whose code or name is asked for."""
    if code := asked.get("animal", "").strip():
        rows = rows.filter(
            Q(animal__code__iexact=code)
            | Q(animal__name__iexact=code)
            | Q(group__code__iexact=code)
            | Q(group__name__iexact=code)
        )
    return rows


def projects_in(rows: QuerySet[Any], person: Any, verb: Any) -> QuerySet[Project]:
    """Give the projects that a person's own list could be narrowed to."""
    seen = allowed(rows.order_by(), person, verb).values("project")
    return Project.objects.filter(pk__in=seen).select_related("study")
