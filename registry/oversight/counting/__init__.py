"""Count animals and contacts from enrolments and uses, as of a day and as known at a moment."""

from registry.oversight.counting.rows import (
    NON_RECOVERY,
    NOW,
    AsOf,
    EnrolmentRow,
    Kind,
    LineUse,
    Subject,
    UseRow,
    UseSum,
    lot_of,
)
from registry.oversight.counting.severity import is_below, least_severity
from registry.oversight.counting.sums import (
    WINDOWS_D,
    contacts_of,
    distinct_animals,
    enrolled,
    is_live,
    line_use,
    line_use_of_sums,
    loads,
    places_taken,
    recent_contacts,
    standing,
)

__all__ = [
    "NON_RECOVERY",
    "NOW",
    "WINDOWS_D",
    "AsOf",
    "EnrolmentRow",
    "Kind",
    "LineUse",
    "Subject",
    "UseRow",
    "UseSum",
    "contacts_of",
    "distinct_animals",
    "enrolled",
    "is_below",
    "is_live",
    "least_severity",
    "line_use",
    "line_use_of_sums",
    "loads",
    "lot_of",
    "places_taken",
    "recent_contacts",
    "standing",
]
