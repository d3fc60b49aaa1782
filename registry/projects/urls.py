"""The addresses of studies, their cohorts and plans; a project's own page stands in approvals."""

from django.urls import path

from registry.projects import views
from registry.projects.forms import DEEDS, STUDY_DEEDS
from registry.projects.models import Project, Study
from registry.web import offer

app_name = "projects"
urlpatterns = [
    path("", views.study_list, name="list"),
    path("open/", views.open_study, name="open"),
    path("<int:pk>/", views.study, name="study"),
    path("<int:pk>/<slug:path>/", views.study_deed, name="study_deed"),
    path("projects/<int:pk>/plan/", views.plan, name="plan"),
    path("projects/<int:pk>/write_plan/", views.write_plan),
    path("projects/<int:pk>/assign/", views.assign),
    path("projects/<int:pk>/<slug:path>/", views.deed, name="deed"),
]
offer(Study, STUDY_DEEDS, "projects:study_deed")
offer(Project, DEEDS, "projects:deed")
