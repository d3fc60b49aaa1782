"""What this slice offers over the API: plural name to view set."""

from typing import Any

from registry.oversight.api.audits import AuditViewSet, PointViewSet, SampledUseViewSet
from registry.oversight.api.bookings import BookingViewSet, EnrolmentViewSet, SessionViewSet
from registry.oversight.api.happened import (
    AdverseEventViewSet,
    BreachViewSet,
    ConcernViewSet,
    HoldViewSet,
)
from registry.oversight.api.lifetime import lifetime
from registry.oversight.api.returns import ReturnCategoryViewSet, YearReturnViewSet
from registry.oversight.api.uses import RestRuleViewSet, TrainingRuleViewSet, UseViewSet

__all__ = ["OFFERED", "lifetime"]

OFFERED: dict[str, Any] = {
    "bookings": BookingViewSet,
    "enrolments": EnrolmentViewSet,
    "sessions": SessionViewSet,
    "uses": UseViewSet,
    "rest-rules": RestRuleViewSet,
    "training-rules": TrainingRuleViewSet,
    "year-returns": YearReturnViewSet,
    "return-categories": ReturnCategoryViewSet,
    "adverse-events": AdverseEventViewSet,
    "breaches": BreachViewSet,
    "holds": HoldViewSet,
    "concerns": ConcernViewSet,
    "audits": AuditViewSet,
    "sampled-uses": SampledUseViewSet,
    "audit-points": PointViewSet,
}
