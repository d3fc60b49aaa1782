"""What is known of an animal's pregnancy, and whether it is fit to travel."""

from dataclasses import dataclass
from datetime import date, timedelta

from registry.animals.gestation import is_soon_after, unfit_from
from registry.animals.models import Animal, Event
from registry.saying import day_said


@dataclass(frozen=True)
class Pregnancy:
    """A pregnancy that was found and has not ended, by what was recorded up to a day."""

    found: Event
    least_d: int | None
    most_d: int | None

    @property
    def due_from(self) -> date | None:
        """The first day on which the birth may come, where the period is known."""
        since = self.found.since_on
        return since + timedelta(days=self.least_d) if since and self.least_d else None

    @property
    def due_by(self) -> date | None:
        """The last day on which it may come."""
        since = self.found.since_on
        return since + timedelta(days=self.most_d) if since and self.most_d else None

    @property
    def unfit_from(self) -> date | None:
        """From when on it may not be sent away; unknown means now."""
        since = self.found.since_on
        return unfit_from(since, self.least_d) if since and self.least_d else None


def pregnancy_of(animal: Animal, day: date) -> Pregnancy | None:
    """Give the pregnancy of an animal on a day, where one was found; one query."""
    told = animal.events.standing().filter(
        sort__in=[Event.Sort.SCANNED, Event.Sort.BORE], happened_on__lte=day
    )
    last = told.order_by("happened_on", "pk").last()
    if last is None or last.sort == Event.Sort.BORE or not last.is_positive:
        return None
    return Pregnancy(last, animal.taxon.period_least_d, animal.taxon.period_most_d)


def unfit_to_travel(animal: Animal, day: date) -> str:
    """Say why an animal is not fit to travel on a day, or nothing where no reason is known."""
    births = animal.events.standing().filter(sort=Event.Sort.BORE, happened_on__lte=day)
    born = births.order_by("happened_on").last()
    if born is not None and is_soon_after(born.happened_on, day):
        return f"{animal} gave birth on {day_said(born.happened_on)}, less than a week before."
    found = pregnancy_of(animal, day)
    if found is None:
        return ""
    first = found.unfit_from
    if first is None:
        return (
            f"{animal} is pregnant, and it is not known how far: its taxon has no gestation, or"
            " the scan no day from which to reckon."
        )
    if day < first:
        return ""
    return f"{animal} is pregnant; since {day_said(first)} 90 % of its gestation has passed."
