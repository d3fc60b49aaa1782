"""The input of each deed of this slice, for its page and for the API."""

from registry.oversight.forms.bookings import BOOKING_DEEDS, REQUEST
from registry.oversight.forms.breaches import BREACH_DEEDS
from registry.oversight.forms.enrolments import ENROLMENT_DEEDS
from registry.oversight.forms.sessions import PLAN, SESSION_DEEDS
from registry.oversight.forms.uses import RECORD, USE_DEEDS
from registry.web import deeds

PROJECT_DEEDS = deeds(REQUEST, PLAN, RECORD)

__all__ = [
    "BOOKING_DEEDS",
    "BREACH_DEEDS",
    "ENROLMENT_DEEDS",
    "PROJECT_DEEDS",
    "SESSION_DEEDS",
    "USE_DEEDS",
]
