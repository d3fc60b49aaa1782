"""What the demo has made so far, by short names; and the texts it is told from."""

import json
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import timezone

from archive.models import Analysis, Deposit, Dictionary, DictionaryMapping, Version
from registry.animals.models import Animal, Enclosure, Group, Restriction, Taxon
from registry.approvals.models import Approval, PermissionKind
from registry.demo.diary import Story
from registry.oversight.models import Booking, Concern, Enrolment
from registry.people.models import Body, Person
from registry.projects.models import Procedure, Project, Study
from registry.questions.models import Question

TEXTS = settings.ROOT / "fixtures" / "demo"


def told(name: str) -> Any:
    """Give what a file of the demo's texts holds."""
    return json.loads((TEXTS / f"{name}.json").read_text(encoding="utf-8"))


@dataclass
class World:
    """Everything that later deeds name; each by the short name that the texts give it."""

    story: Story
    people: dict[str, Person] = field(default_factory=dict)
    bodies: dict[str, Body] = field(default_factory=dict)
    taxa: dict[str, Taxon] = field(default_factory=dict)
    places: dict[str, Enclosure] = field(default_factory=dict)
    animals: dict[str, Animal] = field(default_factory=dict)
    groups: dict[str, Group] = field(default_factory=dict)
    restrictions: dict[str, Restriction] = field(default_factory=dict)
    questions: dict[int, Question] = field(default_factory=dict)
    studies: dict[str, Study] = field(default_factory=dict)
    projects: dict[str, Project] = field(default_factory=dict)
    approvals: dict[str, Approval] = field(default_factory=dict)
    bookings: dict[str, Booking] = field(default_factory=dict)
    enrolments: dict[str, Enrolment] = field(default_factory=dict)
    concerns: dict[str, Concern] = field(default_factory=dict)
    dictionaries: dict[str, Dictionary] = field(default_factory=dict)
    mappings: dict[str, DictionaryMapping] = field(default_factory=dict)
    deposits: dict[str, Deposit] = field(default_factory=dict)
    versions: dict[str, Version] = field(default_factory=dict)
    analyses: dict[str, Analysis] = field(default_factory=dict)

    def today(self) -> date:
        """Give the day on which the clock stands."""
        return timezone.localdate()

    def procedure(self, code: str) -> Procedure:
        """Give a procedure of the vocabulary."""
        return Procedure.objects.get(code=code)

    def permission(self, code: str) -> PermissionKind:
        """Give a kind of permission of the vocabulary."""
        return PermissionKind.objects.get(code=code)
