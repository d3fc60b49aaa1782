"""What was so on an earlier day, by what is known now or by what was known then."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q

from registry.animals.models import Animal, Enclosure, Group, LifeStage, Restriction, Sex
from registry.animals.reads import end_of, lived_in, states_on
from registry.animals.state import State
from registry.web import seen_among


@dataclass(frozen=True)
class Then:
    """One animal or group at the end of a day.

    Parameters
    ----------
    day : date
        The day.
    known : date or None
        What was recorded after this day is left out; None leaves out nothing.
    state : State
        As its events have it.
    enclosure : Enclosure or None
        Where it lived; None where it was away, or not here.
    restrictions : list of Restriction
        What barred it, or its enclosure.
    """

    day: date
    known: date | None
    state: State
    enclosure: Enclosure | None
    restrictions: list[Restriction]

    @property
    def sex(self) -> str:
        """Its sex in words."""
        return str(Sex(self.state.sex).label) if self.state.sex else ""

    @property
    def stage(self) -> str:
        """Its stage of life in words."""
        return str(LifeStage(self.state.life_stage).label) if self.state.life_stage else ""

    def as_dict(self) -> dict[str, Any]:
        """Give it as a program reads it."""
        return {
            "on": self.day,
            "known_on": self.known,
            "is_here": self.state.is_here,
            **_as_dict(self.state),
            "restrictions": [one.pk for one in self.restrictions],
        }


def _as_dict(state: State) -> dict[str, Any]:
    return {
        "enclosure": state.enclosure,
        "males": state.count.males,
        "females": state.count.females,
        "unknown": state.count.unknown,
        "is_estimated": state.is_estimated,
        "sex": state.sex,
        "life_stage": state.life_stage,
    }


def then_of(subject: Animal | Group, day: date, known: date | None) -> Then:
    """Read what was so of an animal or a group at the end of a day; three queries."""
    moment = end_of(known) if known else None
    state = states_on([subject], day, moment)[str(subject.kind), subject.pk]
    own = Q(**{str(subject.kind): subject})
    if state.enclosure is not None:
        own |= Q(enclosure=state.enclosure)
    barred = Restriction.objects.in_force_on(day, moment).filter(own).select_related("enclosure")
    home = Enclosure.objects.filter(pk=state.enclosure).first() if state.enclosure else None
    return Then(day, known, state, home, list(barred) if state.is_here else [])


def lived_then(
    enclosure: Enclosure, day: date, known: date | None, person: Any
) -> list[dict[str, Any]]:
    """Give who lived in an enclosure at the end of a day, as far as the person may see them."""
    lived = lived_in(enclosure, day, end_of(known) if known else None)
    seen = seen_among([row for row, _ in lived], person)
    return [
        {
            "row": row,
            "state": state,
            "number": state.count.total,
            "sex": str(state.count)
            if isinstance(row, Group)
            else Sex(state.sex or Sex.UNKNOWN).label,
            "stage": LifeStage(state.life_stage).label if state.life_stage else "",
            "is_estimated": state.is_estimated,
        }
        for row, state in lived
        if row in seen
    ]


def lived_as_dicts(
    enclosure: Enclosure, day: date, known: date | None, person: Any
) -> list[dict[str, Any]]:
    """Give the same as a program reads it."""
    return [
        {"kind": str(one["row"].kind), "id": one["row"].pk, "code": one["row"].code}
        | _as_dict(one["state"])
        for one in lived_then(enclosure, day, known, person)
    ]
