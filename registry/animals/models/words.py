"""Lists of words that several models share, and the condition that one of several is filled."""

from django.db import models
from django.db.models import Q


class Sex(models.TextChoices):
    """Undetermined: looked and could not tell. Unknown: not looked."""

    FEMALE = "female", "female"
    MALE = "male", "male"
    HERMAPHRODITE = "hermaphrodite", "hermaphrodite"
    UNDETERMINED = "undetermined", "undetermined"
    UNKNOWN = "unknown", "unknown"


class LifeStage(models.TextChoices):
    """Stages of life, from the egg on."""

    EGG = "egg", "egg (in case)"
    EMBRYO = "embryo", "embryo"
    LARVA = "larva", "larva"
    HATCHLING = "hatchling", "hatchling"
    PUP = "pup", "pup"
    JUVENILE = "juvenile", "juvenile"
    SUBADULT = "subadult", "subadult"
    ADULT = "adult", "adult"


class Precision(models.TextChoices):
    """How exactly a day is known."""

    DAY = "day", "to the day"
    MONTH = "month", "to the month"
    YEAR = "year", "to the year"
    ESTIMATED = "estimated", "estimated"


def one_of(*names: str) -> Q:
    """Give the condition that exactly one of these columns is filled."""
    wanted = Q()
    for chosen in names:
        wanted |= Q(**{f"{name}__isnull": name != chosen for name in names})
    return wanted
