"""Young that nobody can tell apart yet: without a mark or a chip, soonest due first."""

from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Exists, OuterRef, QuerySet
from django.db.models.functions import Coalesce

from registry.animals.models import Animal, LifeStage, Mark

YOUNG = (
    LifeStage.LARVA,
    LifeStage.HATCHLING,
    LifeStage.PUP,
    LifeStage.JUVENILE,
    LifeStage.SUBADULT,
)


def young_unmarked() -> QuerySet[Any]:
    """Give the young that live here without a mark or a chip: the eldest first, soonest due.

    Each has `known_from`, its birth or, where that is not known, its arrival.
    """
    told_apart = Mark.objects.telling_apart().filter(animal=OuterRef("pk"))
    return (
        Animal.objects.filter(~Exists(told_apart), state="kept", life_stage__in=YOUNG)
        .annotate(known_from=Coalesce("born_on", "arrived_on"))
        .order_by("known_from", "code")
    )


def due_on(known_from: date) -> date:
    """Give the day by which one that is known from a day on is to be told apart; a house rule."""
    return known_from + timedelta(days=settings.MARK_WITHIN_D)
