"""What the lists of this slice share: narrowing by state, project and animal."""

from typing import Any

from django.db.models import Count, Exists, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from registry.choices import RowField
from registry.permissions import allowed
from registry.projects.models import Project
from registry.web import NarrowForm


class InProject(NarrowForm):
    """The project to which a list is narrowed."""

    project = RowField(
        Project.objects.none(), label=_("Project"), required=False, empty_label=_("any")
    )

    @property
    def chosen(self) -> Project | None:
        """The project, where one was asked for that is there to see."""
        found: Project | None = self.cleaned_data.get("project") if self.is_valid() else None
        return found


def in_project(rows: QuerySet[Any], person: Any, verb: Any, asked: QueryDict) -> InProject:
    """Give the choice of a project among those of a person's own list."""
    form = InProject(asked, auto_id="%s", label_suffix="")
    seen = allowed(rows.order_by(), person, verb).filter(project=OuterRef("pk"))
    offered = Project.objects.filter(Exists(seen)).select_related("study")
    form.fields["project"].queryset = offered  # type: ignore[attr-defined]  # why: a RowField
    return form


def narrowed[Q_: QuerySet[Any]](rows: Q_, asked: QueryDict, form: InProject) -> Q_:
    """Narrow a list to the state and the project that the address asks for."""
    if state := asked.get("state"):
        rows = rows.filter(state=state)
    return of_project(rows, form)


def of_project[Q_: QuerySet[Any]](rows: Q_, form: InProject) -> Q_:
    """Narrow a list to the project that was asked for; a name that none has leaves no rows."""
    if not form.is_valid():
        return rows.none() if "project_said" in form.data else rows
    return rows if form.chosen is None else rows.filter(project=form.chosen)


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


def counted(rows: Any, path: str) -> Coalesce:
    """Count the rows that hang on each row of a list: only on those that its page shows."""
    here = rows.filter(**{path: OuterRef("pk")}).order_by().values(path)
    number = here.annotate(number=Count("pk")).values("number")
    return Coalesce(Subquery(number, output_field=IntegerField()), 0)
