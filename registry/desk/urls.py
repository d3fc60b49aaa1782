"""The addresses of this slice."""

from django.urls import path

from registry.desk import begin_views, mail_views, session_views, views
from registry.desk.designing import draw_views
from registry.desk.designing import views as design_views
from registry.desk.designing.taking import DESIGN_DEEDS
from registry.projects.models import Project
from registry.web import offer

urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("words/", views.words, name="words"),
    path("design/", design_views.designs, name="design"),
    path("design/spread/", design_views.spread, name="design_spread"),
    path("design/answer/", design_views.answer, name="design_answer"),
    path("design/schedule.ics", draw_views.calendar, name="design_calendar"),
    path("design/sheet.csv", draw_views.sheet, name="design_sheet"),
    path("design/draw/<slug:name>/", draw_views.draw, name="design_draw"),
    path("design/draw/<slug:name>/answer/", draw_views.answer, name="design_draw_answer"),
    path("design/projects/<int:pk>/<slug:path>/", design_views.project_deed, name="design_deed"),
    path("help/", views.help_page, name="help"),
    path("begin/", begin_views.begin, name="begin"),
    path("reference/", begin_views.reference, name="reference"),
    path("reference/load/", begin_views.load, name="load_reference"),
    path("sessions/", session_views.sessions, name="sessions"),
    path("sessions/<int:pk>/sheet/", session_views.sheet, name="session_sheet"),
    path(
        "sessions/<int:pk>/sheet/<str:table>.csv",
        session_views.sheet_csv,
        name="session_sheet_csv",
    ),
    path("morning/", mail_views.morning, name="morning"),
    path("morning/calendar/", mail_views.make_calendar, name="make_calendar"),
    path("morning/calendar/off/", mail_views.end_calendar, name="end_calendar"),
    path("morning/off/<str:signed>/", mail_views.switch_off, name="mail_off"),
    path("calendar.ics", mail_views.calendar, name="calendar"),
    path("calendar/<slug:secret>.ics", mail_views.secret_calendar, name="secret_calendar"),
]
offer(Project, DESIGN_DEEDS, "design_deed")
