"""The addresses of approvals, and of a project's page, which shows how its needs stand."""

from django.urls import path

from registry.approvals import views
from registry.approvals.forms import DEEDS, PROJECT_DEEDS
from registry.approvals.models import Approval
from registry.projects.models import Project
from registry.web import offer

app_name = "approvals"
urlpatterns = [
    path("projects/<int:pk>/", views.project, name="project"),
    path("approvals/", views.approval_list, name="list"),
    path("approvals/calendar/", views.calendar, name="calendar"),
    path("approvals/<int:pk>/", views.approval, name="approval"),
    path("approvals/<int:pk>/letter.pdf", views.letter, name="letter"),
    path("approvals/<int:pk>/decide/", views.decide, name="decide"),
    path("approvals/<int:pk>/<slug:path>/", views.deed, name="deed"),
    path("approvals/projects/<int:pk>/<slug:path>/", views.project_deed, name="project_deed"),
]
offer(Approval, DEEDS, "approvals:deed")
offer(Project, PROJECT_DEEDS, "approvals:project_deed")
