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
from registry.oversight.forms.audits import AUDIT_DEEDS, POINT_DEEDS
from registry.oversight.forms.concerns import DEEDS as CONCERN_DEEDS
from registry.oversight.models import (
    Audit,
    Booking,
    Breach,
    Concern,
    Enrolment,
    Point,
    Session,
    Use,
)
from registry.oversight.views import (
    audits,
    available,
    bookings,
    breaches,
    concerns,
    enrolments,
    review,
    sessions,
    uses,
)
from registry.projects.models import Project
from registry.web import offer

app_name = "oversight"
urlpatterns = [
    path("", review.home, name="home"),
    path("review/", review.review, name="review"),
    path("review/uses.csv", review.export_uses, name="export_uses"),
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
    path("audits/<int:pk>/<slug:path>/", audits.audit_deed, name="audit_deed"),
    path("points/<int:pk>/", audits.point, name="point"),
    path("points/<int:pk>/<slug:path>/", audits.point_deed, name="point_deed"),
]
offer(Project, PROJECT_DEEDS, "oversight:project_deed")
offer(Booking, BOOKING_DEEDS, "oversight:booking_deed")
offer(Enrolment, ENROLMENT_DEEDS, "oversight:enrolment_deed")
offer(Session, SESSION_DEEDS, "oversight:session_deed")
offer(Use, USE_DEEDS, "oversight:use_deed")
offer(Breach, BREACH_DEEDS, "oversight:breach_deed")
offer(Concern, CONCERN_DEEDS, "oversight:concern_deed")
offer(Audit, AUDIT_DEEDS, "oversight:audit_deed")
offer(Point, POINT_DEEDS, "oversight:point_deed")
