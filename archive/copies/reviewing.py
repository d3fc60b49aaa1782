"""Which versions have been kept for their least time: to be reviewed by a person, never deleted."""

from datetime import timedelta

from django.db.models import Max, QuerySet
from django.utils import timezone

from archive.models import Dataset
from registry.oversight.models import RetentionRule

RULE = "data"
"""The rule of the reference data that says how long data are kept at least."""
_YEAR = timedelta(days=365.25)


def years_kept() -> int | None:
    """Give the least number of years for which data are kept; None where no rule is loaded."""
    return RetentionRule.objects.filter(code=RULE).values_list("years", flat=True).first()


def to_review() -> QuerySet[Dataset]:
    """Give the datasets that were not added to for as long as data are kept at least.

    The rule counts from their last use. What the register knows of that is the newest version; who
    reviews them knows of other uses.
    """
    years = years_kept()
    if years is None:
        return Dataset.objects.none()
    newest = Dataset.objects.filter(versions__state__in=["held", "withdrawn"]).annotate(
        newest_at=Max("versions__accepted_at")
    )
    return newest.filter(newest_at__lt=timezone.now() - years * _YEAR).order_by("newest_at")
