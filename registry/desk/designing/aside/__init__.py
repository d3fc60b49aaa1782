"""What is asked beside the tests: one animal, widths of intervals, a collection, an interval."""

from registry.desk.designing.aside.base import AsideForm, Said
from registry.desk.designing.aside.interval import IntervalForm
from registry.desk.designing.aside.phases import PhasesForm, StaggeredForm
from registry.desk.designing.aside.widths import (
    CollectionForm,
    MeanWidthForm,
    ResourceForm,
    ShareWidthForm,
)

__all__ = ["ASIDE", "AsideForm", "PhasesForm", "Said"]

ASIDE: dict[str, type[AsideForm]] = {
    "one-animal": PhasesForm,
    "staggered": StaggeredForm,
    "mean-width": MeanWidthForm,
    "share-width": ShareWidthForm,
    "collection": CollectionForm,
    "resource": ResourceForm,
    "interval": IntervalForm,
}
"""The name of each in addresses and in the API."""
