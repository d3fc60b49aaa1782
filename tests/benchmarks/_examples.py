"""The rows of the large collection that its pages are asked for: of each kind the fullest."""

from typing import Any

from django.db.models import Count, Model

from archive.models import Dataset, Deposit, DepositFile, Dictionary, Version
from registry.animals.models import Animal, Enclosure, Group, Restriction, Taxon
from registry.answers.models import Answer, HusbandryAction
from registry.approvals.models import Approval, PermissionKind
from registry.ledger.models import Entry
from registry.oversight.models import (
    Audit,
    Booking,
    Breach,
    Concern,
    Enrolment,
    Point,
    Session,
    Use,
)
from registry.people.actions import make_token
from registry.people.models import ApiToken, Body, Person
from registry.permissions import STANDINGS
from registry.projects.models import Procedure, Project, Study
from registry.questions.models import Question
from tests.worlds.copies import kinds
from tests.worlds.site import Site

FULLEST: dict[type[Model], str] = {
    Person: "entries",
    Body: "approvals",
    Taxon: "animals",
    Enclosure: "animals",
    Animal: "uses",
    Group: "uses",
    Restriction: "",
    Question: "studies",
    Study: "projects",
    Project: "uses",
    Procedure: "uses",
    Approval: "limits",
    PermissionKind: "approvals",
    Booking: "subjects",
    Enrolment: "uses",
    Session: "enrolments",
    Use: "",
    Breach: "",
    Concern: "",
    Audit: "points",
    Point: "",
    Dictionary: "",
    Dataset: "versions",
    Deposit: "files",
    Version: "",
    Answer: "actions",
    HusbandryAction: "",
}
OF_THE_DEMO = {Person, Project, Study, Animal, Group, Dataset, Deposit, Version, Dictionary}
"""Kinds whose example is the demo's own: its bytes are in the store."""


def _example(model: type[Model], relation: str) -> Model:
    rows: Any = model._base_manager.order_by("pk")
    if model is Person:
        rows = rows.filter(is_system=False)
    if model in OF_THE_DEMO:
        rows = rows.filter(pk__in=list(rows.values_list("pk", flat=True)[:12]))
    if relation:
        rows = rows.annotate(held=Count(relation)).order_by("-held", "pk")
    found: Model = rows.first()
    return found


def make_site() -> Site:
    """Give the examples, and one person for each standing."""
    shown = [one for one in kinds() if hasattr(one, "get_absolute_url")]
    examples = {model: _example(model, FULLEST.get(model, "")) for model in [*FULLEST, *shown]}
    # A kind whose page is a place on another page has none of its own.
    examples = {
        model: one
        for model, one in examples.items()
        if "#" not in getattr(one, "get_absolute_url", str)()
    }
    project, version = examples[Project], examples[Version]
    examples[DepositFile] = DepositFile.objects.filter(deposit__version=version)[0]
    examples[Entry] = Entry.objects.filter(project_number=project.pk).order_by("-number")[0]
    people: dict[str, Any] = {}
    for role in STANDINGS:
        people[role.label] = Person.objects.with_standing(role).order_by("pk").first()
    lead: Any = project.members.live().filter(part="lead")[0].person  # type: ignore[attr-defined]
    people["lead supervisor"] = lead
    if not lead.tokens.exists():
        make_token(lead, name="logger", days=3, by=lead)
    examples[ApiToken] = lead.tokens.all()[0]
    return Site(examples, people)
