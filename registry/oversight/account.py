"""How a project went so far: planned and used, severity, events, deviations, keeper time."""

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Sum
from django.utils import timezone

from registry.oversight.counting import places_taken
from registry.oversight.models import AdverseEvent, Breach, Deviation, Enrolment, KeeperTime, Use
from registry.oversight.used import enrolment_rows
from registry.projects.models import Arm, Project, Severity

WEEK_D = 7


@dataclass(frozen=True)
class Account:
    """The figures of a project; times in minutes.

    `severities` gives how many enrolments reached which actual class; those still enrolled have
    none yet.
    """

    planned_animals: int
    planned_units: int
    enrolled_animals: int
    units: int
    uses: int
    contacts: int
    severities: dict[str, int]
    still_enrolled: int
    events: int
    unexpected_events: int
    events_to_assess: int
    deviations: int
    breaches: int
    asked_min: int
    spent_min: int

    @property
    def asked_hours(self) -> float:
        """Keeper time asked for so far, in hours."""
        return self.asked_min / 60

    @property
    def spent_hours(self) -> float:
        """Keeper time spent, in hours."""
        return self.spent_min / 60

    def packed(self) -> dict[str, Any]:
        """Give it as a report keeps it."""
        return asdict(self)


def account_of(project: Project, today: date | None = None) -> Account:
    """Reckon the account of a project as of today; as many queries whatever it did."""
    today = today or timezone.localdate()
    arms = Arm.objects.filter(plan__project=project, is_dropped=False).aggregate(
        animals=Sum("animals"), units=Sum("units")
    )
    enrolments = Enrolment.objects.filter(project=project)
    reached = dict(
        enrolments.exclude(actual_severity=None)
        .order_by()
        .values_list("actual_severity")
        .annotate(number=Count("pk"))
    )
    uses = dict(
        Use.objects.standing()
        .filter(project=project)
        .order_by()
        .values_list("procedure__is_contact")
        .annotate(number=Count("pk"))
    )
    events = AdverseEvent.objects.filter(project=project)
    units = {unit or code for unit, code in enrolments.order_by().values_list("unit", "code")}
    return Account(
        planned_animals=arms["animals"] or 0,
        planned_units=arms["units"] or 0,
        enrolled_animals=sum(places_taken(enrolment_rows(enrolments), ()).values()),
        units=len(units),
        uses=sum(uses.values()),
        contacts=uses.get(True, 0),
        severities={str(one.label): reached[one.value] for one in Severity if one.value in reached},
        still_enrolled=enrolments.filter(state="enrolled").count(),
        events=events.count(),
        unexpected_events=events.filter(is_expected=False).count(),
        events_to_assess=events.filter(state="reported").count(),
        deviations=Deviation.objects.filter(project=project).count(),
        breaches=Breach.objects.filter(project=project).count(),
        asked_min=asked_min(project, today),
        spent_min=KeeperTime.objects.filter(project=project).aggregate(sum=Sum("minutes"))["sum"]
        or 0,
    )


def asked_min(project: Project, today: date) -> int:
    """Give the keeper time that a project asked for from its first day to a day, in minutes."""
    last = min(today, project.ends_on)
    days = max(0, (last - project.starts_on).days + 1)
    return round(project.keeper_hours_week * 60 * days / WEEK_D)
