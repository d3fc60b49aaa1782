"""The input of each deed of this slice, for its page and for the API."""

from registry.oversight.forms.bookings import BOOKING_DEEDS, REQUEST
from registry.oversight.forms.breaches import BREACH_DEEDS
from registry.oversight.forms.enrolments import ENROLMENT_DEEDS
from registry.oversight.forms.holds import HOLD_RECORDS
from registry.oversight.forms.returns import SAY_PURPOSE
from registry.oversight.forms.sessions import PLAN, PLAN_ALL, SESSION_DEEDS
from registry.oversight.forms.uses import RECORD, USE_DEEDS
from registry.oversight.forms.welfare import DEVIATION, LOG_TIME, REPORT_EVENT
from registry.web import deeds

PROJECT_DEEDS = deeds(
    REQUEST, PLAN, PLAN_ALL, RECORD, REPORT_EVENT, DEVIATION, LOG_TIME, SAY_PURPOSE, HOLD_RECORDS
)

__all__ = [
    "BOOKING_DEEDS",
    "BREACH_DEEDS",
    "ENROLMENT_DEEDS",
    "PROJECT_DEEDS",
    "SESSION_DEEDS",
    "USE_DEEDS",
]
