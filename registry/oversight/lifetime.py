"""All that one animal, or one group, went through in every project: its lifetime experience."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Max, Min, Q
from django.utils import timezone

from registry.animals.models import Animal, Group
from registry.approvals.rules.law import rules_on
from registry.approvals.rules.reuse import EarlierUse, NextUse, Reuse, reuse
from registry.oversight.facts import loads_of, subject_of
from registry.oversight.models import AdverseEvent, Breach, Enrolment, Use
from registry.oversight.returns import Regulated
from registry.permissions import Actor, Verb, reach, require
from registry.projects.models import Project, Severity


@dataclass(frozen=True)
class Stretch:
    """What it went through in one project under one enrolment, or outside any."""

    project: Project
    enrolment: Enrolment | None
    first_on: date | None
    last_on: date | None
    uses: int
    contacts: int
    is_regulated: bool
    severity: int | None

    @property
    def severity_said(self) -> str:
        """The actual class in words; none while nobody has given it."""
        return "" if self.severity is None else str(Severity(self.severity).label)


@dataclass(frozen=True)
class Lifetime:
    """The whole; `loads` are hands-on contacts of the last 7, 28 and 365 days."""

    stretches: Sequence[Stretch]
    events: Sequence[AdverseEvent]
    breaches: Sequence[Breach]
    loads: dict[int, int]
    uses: int
    contacts: int
    in_projects_now: int
    regulated: int
    again: Reuse

    @property
    def highest(self) -> str:
        """The highest class on the scale that it reached anywhere, in words."""
        reached = [one.severity for one in self.stretches if one.severity is not None]
        return str(Severity(max(reached)).label) if reached else ""


def require_lifetimes(person: Actor) -> None:
    """Refuse whoever may not see the uses of every project: a lifetime holds them all."""
    if reach(Use, person, Verb.USE_SEE) is not True:
        require(person, Verb.USE_REVIEW)


def lifetime_of(subject: Animal | Group, jurisdiction: str = "uk") -> Lifetime:
    """Give the lifetime experience of an animal or a group; as many queries whatever it bore.

    `again` says what speaks against a further regulated use of a mild class, with no consent and
    no advice of a vet held yet: what a named person would have to settle first.
    """
    of_it = Q(**{str(subject.kind): subject})
    today = timezone.localdate()
    stretches = _stretches(of_it, subject)
    here = ([subject], []) if isinstance(subject, Animal) else ([], [subject])
    earlier = [EarlierUse(one.severity, is_regulated=True) for one in stretches if one.is_regulated]
    return Lifetime(
        stretches=stretches,
        events=list(
            AdverseEvent.objects.filter(of_it).select_related("project__study").order_by("pk")
        ),
        breaches=list(Breach.objects.filter(of_it).select_related("project__study").order_by("pk")),
        loads=loads_of(*here, today).get(subject_of(subject), {}),
        uses=sum(one.uses for one in stretches),
        contacts=sum(one.contacts for one in stretches),
        in_projects_now=Enrolment.objects.filter(of_it)
        .live_on(today)
        .aggregate(number=Count("project", distinct=True))["number"],
        regulated=len(earlier),
        again=reuse(earlier, NextUse(Severity.MILD), rules_on(jurisdiction, today)),
    )


def _stretches(of_it: Q, subject: Animal | Group) -> list[Stretch]:
    enrolments = {
        one.pk: one
        for one in Enrolment.objects.filter(of_it).select_related("project__study").order_by("pk")
    }
    regulated = Regulated()
    summed: dict[tuple[int, int | None], dict[str, Any]] = {}
    rows = (
        Use.objects.standing()
        .filter(of_it)
        .order_by("project", "enrolment")
        .values("project", "enrolment", "procedure", "procedure__is_contact")
        .annotate(
            uses=Count("pk"),
            first=Min("happened_at"),
            last=Max("happened_at"),
            top=Max("severity", filter=~Q(severity=Severity.NON_RECOVERY)),
        )
    )
    for row in rows:
        key = (row["project"], row["enrolment"])
        here = summed.setdefault(
            key, {"uses": 0, "contacts": 0, "days": [], "top": [], "is_regulated": False}
        )
        here["uses"] += row["uses"]
        here["contacts"] += row["uses"] if row["procedure__is_contact"] else 0
        here["days"] += [row["first"], row["last"]]
        here["top"].append(row["top"])
        under = enrolments.get(row["enrolment"])
        stage = under.life_stage if under else subject.life_stage
        here["is_regulated"] |= regulated(row["project"], row["procedure"], subject.taxon_id, stage)
    for pk, one in enrolments.items():
        summed.setdefault((one.project_id, pk), {})
    projects = Project.objects.select_related("study").in_bulk({key[0] for key in summed})
    found = [
        _stretch(projects[project], enrolments.get(under or 0), here)
        for (project, under), here in summed.items()
    ]
    return sorted(found, key=lambda one: (one.first_on or date.max, one.project.pk))


def _stretch(project: Project, enrolment: Enrolment | None, here: dict[str, Any]) -> Stretch:
    days = [timezone.localdate(one) for one in here.get("days", ())]
    tops = [one for one in here.get("top", ()) if one is not None]
    loose = max(tops, default=int(Severity.NON_RECOVERY)) if here else None
    return Stretch(
        project=project,
        enrolment=enrolment,
        first_on=enrolment.from_on if enrolment else min(days, default=None),
        last_on=enrolment.left_on if enrolment else max(days, default=None),
        uses=here.get("uses", 0),
        contacts=here.get("contacts", 0),
        is_regulated=here.get("is_regulated", False),
        severity=enrolment.actual_severity if enrolment else loose,
    )
