"""Every address of the site; composition only."""

from django.urls import include, path

handler400 = "registry.web.not_read"
handler404 = "registry.web.not_found"
handler500 = "registry.web.broken"
urlpatterns = [
    path("", include("registry.desk.urls")),
    path("", include("registry.people.urls")),
    path("", include("registry.running.urls")),
    path("questions/", include("registry.answers.urls")),
    path("questions/", include("registry.questions.urls")),
    path("studies/", include("registry.projects.urls")),
    path("studies/", include("registry.approvals.urls")),
    path("animals/", include("registry.afar.urls")),
    path("animals/", include("registry.animals.urls")),
    path("archive/", include("archive.urls")),
    path("oversight/", include("registry.oversight.urls")),
    path("oversight/", include("registry.ledger.urls")),
    path("api/v1/", include("registry.api")),
]
