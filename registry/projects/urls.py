"""The addresses of studies, their cohorts and plans; a project's own page stands in approvals."""

from django.urls import path

from registry.printing.pictures import MEDIA
from registry.projects import plan_views, views
from registry.projects.forms import ALLOCATION_DEEDS, DEEDS, STUDY_DEEDS
from registry.projects.models import Allocation, Project, Study
from registry.web import offer

app_name = "projects"
urlpatterns = [
    path("", views.study_list, name="list"),
    path("open/", views.open_study, name="open"),
    path("<int:pk>/", views.study, name="study"),
    path("<int:pk>/<slug:path>/", views.study_deed, name="study_deed"),
    path("projects/<int:pk>/plan/", plan_views.plan, name="plan"),
    path("projects/<int:pk>/plan/page/", plan_views.one_page, name="plan_page"),
    path("projects/<int:pk>/plan.pdf", plan_views.one_page_pdf, name="plan_pdf"),
    *(
        path(
            f"projects/<int:pk>/achieved.{form}",
            plan_views.achieved_picture,
            {"form": form},
            f"achieved_{form}",
        )
        for form in MEDIA
    ),
    path("projects/<int:pk>/plan/versions/<int:number>/", plan_views.version, name="plan_version"),
    path("projects/<int:pk>/write_plan/", plan_views.write_plan),
    path("projects/<int:pk>/assign/", views.assign),
    path("projects/<int:pk>/<slug:path>/", views.deed, name="deed"),
    path("allocations/<int:pk>/", plan_views.allocation, name="allocation"),
    path("allocations/<int:pk>/key/", plan_views.key, name="key"),
    path("allocations/<int:pk>/<slug:path>/", plan_views.allocation_deed, name="allocation_deed"),
]
offer(Study, STUDY_DEEDS, "projects:study_deed")
offer(Project, DEEDS, "projects:deed")
offer(Allocation, ALLOCATION_DEEDS, "projects:allocation_deed")
