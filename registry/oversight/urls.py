"""The addresses of this slice."""

from django.urls import path

from registry.oversight.forms import (
    BOOKING_DEEDS,
    BREACH_DEEDS,
    ENROLMENT_DEEDS,
    PROJECT_DEEDS,
    SESSION_DEEDS,
    USE_DEEDS,
)
from registry.oversight.forms.audits import AUDIT_DEEDS, POINT_DEEDS, SAMPLED_DEEDS
from registry.oversight.forms.concerns import DEEDS as CONCERN_DEEDS
from registry.oversight.forms.holds import HOLD_DEEDS
from registry.oversight.forms.rests import REST_DEEDS
from registry.oversight.forms.trainings import TRAINING_DEEDS
from registry.oversight.forms.welfare import EVENT_DEEDS
from registry.oversight.models import (
    AdverseEvent,
    Audit,
    Booking,
    Breach,
    Concern,
    Enrolment,
    Hold,
    Point,
    RestRule,
    SampledUse,
    Session,
    TrainingRule,
    Use,
)
from registry.oversight.views import (
    audits,
    available,
    bookings,
    breaches,
    concerns,
    enrolments,
    holds,
    rests,
    returns,
    review,
    sessions,
    trainings,
    uses,
    welfare,
)
from registry.projects.models import Project
from registry.web import offer

app_name = "oversight"
urlpatterns = [
    path("", review.home, name="home"),
    path("review/", review.review, name="review"),
    path("review/uses.csv", review.export_uses, name="export_uses"),
    path("projects/<int:pk>/account/", welfare.account, name="account"),
    path("projects/<int:pk>/<slug:path>/", sessions.project_deed, name="project_deed"),
    path("available/", available.available, name="available"),
    path("available.json", available.available_json, name="available_json"),
    path("bookings/", bookings.booking_list, name="bookings"),
    path("bookings/<int:pk>/", bookings.booking, name="booking"),
    path("bookings/<int:pk>/<slug:path>/", bookings.booking_deed, name="booking_deed"),
    path("enrolments/", enrolments.enrolment_list, name="enrolments"),
    path("enrolments/<int:pk>/", enrolments.enrolment, name="enrolment"),
    path("enrolments/<int:pk>/<slug:path>/", enrolments.enrolment_deed, name="enrolment_deed"),
    path("sessions/", sessions.session_list, name="sessions"),
    path("sessions/<int:pk>/", sessions.session, name="session"),
    path("sessions/<int:pk>/<slug:path>/", sessions.session_deed, name="session_deed"),
    path("uses/", uses.use_list, name="uses"),
    path("uses/<int:pk>/", uses.use, name="use"),
    path("uses/<int:pk>/<slug:path>/", uses.use_deed, name="use_deed"),
    path("lifetime/animals/<int:pk>/", welfare.lifetime_of_animal, name="lifetime_of_animal"),
    path("lifetime/groups/<int:pk>/", welfare.lifetime_of_group, name="lifetime_of_group"),
    path("events/", welfare.event_list, name="events"),
    path("events/<int:pk>/", welfare.event, name="event"),
    path("events/<int:pk>/<slug:path>/", welfare.event_deed, name="event_deed"),
    path("returns/", returns.return_list, name="returns"),
    path("returns/publish/", returns.publish_return, name="publish_return"),
    path("returns/return.csv", returns.return_csv, name="return_csv"),
    path("returns/return.pdf", returns.return_pdf, name="return_pdf"),
    path("returns/<int:pk>/", returns.edition, name="return"),
    path("returns/<int:pk>/return.csv", returns.edition_csv, name="edition_csv"),
    path("returns/<int:pk>/return.pdf", returns.edition_pdf, name="edition_pdf"),
    path("retention/", holds.retention, name="retention"),
    path("holds/<int:pk>/", holds.hold, name="hold"),
    path("holds/<int:pk>/<slug:path>/", holds.hold_deed, name="hold_deed"),
    path("rest/", rests.rest_list, name="rests"),
    path("rest/set/", rests.set_rest, name="set_rest"),
    path("rest/<int:pk>/", rests.rest, name="rest"),
    path("rest/<int:pk>/<slug:path>/", rests.rest_deed, name="rest_deed"),
    path("training/", trainings.rule_list, name="training_rules"),
    path("training/set/", trainings.set_rule, name="set_training_rule"),
    path("training/<int:pk>/", trainings.rule, name="training_rule"),
    path("training/<int:pk>/<slug:path>/", trainings.training_deed, name="training_deed"),
    path("breaches/", breaches.breach_list, name="breaches"),
    path("breaches/<int:pk>/", breaches.breach, name="breach"),
    path("breaches/<int:pk>/<slug:path>/", breaches.breach_deed, name="breach_deed"),
    path("concerns/", concerns.concern_list, name="concerns"),
    path("concerns/raise/", concerns.raise_concern, name="raise_concern"),
    path("concerns/follow/", concerns.follow_concern, name="follow_concern"),
    path("concerns/<int:pk>/", concerns.concern, name="concern"),
    path("concerns/<int:pk>/<slug:path>/", concerns.concern_deed, name="concern_deed"),
    path("audits/", audits.audit_list, name="audits"),
    path("audits/open/", audits.open_audit, name="open_audit"),
    path("audits/<int:pk>/", audits.audit, name="audit"),
    path("audits/<int:pk>/report.pdf", audits.report, name="audit_report"),
    path("sampled/<int:pk>/", audits.sampled, name="sampled"),
    path("sampled/<int:pk>/<slug:path>/", audits.sampled_deed, name="sampled_deed"),
    path("audits/<int:pk>/<slug:path>/", audits.audit_deed, name="audit_deed"),
    path("points/<int:pk>/", audits.point, name="point"),
    path("points/<int:pk>/<slug:path>/", audits.point_deed, name="point_deed"),
]
offer(Project, PROJECT_DEEDS, "oversight:project_deed")
offer(Booking, BOOKING_DEEDS, "oversight:booking_deed")
offer(Enrolment, ENROLMENT_DEEDS, "oversight:enrolment_deed")
offer(Session, SESSION_DEEDS, "oversight:session_deed")
offer(Use, USE_DEEDS, "oversight:use_deed")
offer(Hold, HOLD_DEEDS, "oversight:hold_deed")
offer(RestRule, REST_DEEDS, "oversight:rest_deed")
offer(TrainingRule, TRAINING_DEEDS, "oversight:training_deed")
offer(AdverseEvent, EVENT_DEEDS, "oversight:event_deed")
offer(Breach, BREACH_DEEDS, "oversight:breach_deed")
offer(Concern, CONCERN_DEEDS, "oversight:concern_deed")
offer(Audit, AUDIT_DEEDS, "oversight:audit_deed")
offer(SampledUse, SAMPLED_DEEDS, "oversight:sampled_deed")
offer(Point, POINT_DEEDS, "oversight:point_deed")
