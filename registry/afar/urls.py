"""The addresses of this slice."""

from django.urls import path, re_path

from registry.afar import views
from registry.afar.forms import ANIMAL_DEEDS, CASE_DEEDS, CUSTODY_DEEDS, GROUP_DEEDS, NEWS_DEEDS
from registry.afar.models import Custody, News
from registry.animals.models import Animal, EggCase, Group
from registry.web import offer

app_name = "afar"
urlpatterns = [
    path("away/", views.away, name="away"),
    path("gone/", views.gone, name="gone"),
    path("custodies/<int:pk>/", views.custody, name="custody"),
    path("custodies/<int:pk>/<slug:path>/", views.custody_deed, name="custody_deed"),
    path("dossiers/<int:pk>/", views.dossier, name="dossier"),
    path("dossiers/<int:pk>/dossier.json", views.dossier_json, name="dossier_json"),
    path("dossiers/<int:pk>/dossier.pdf", views.dossier_pdf, name="dossier_pdf"),
    path("news/<int:pk>/", views.news, name="news"),
    path("news/<int:pk>/<slug:path>/", views.news_deed, name="news_deed"),
    # The animals slice has deeds at addresses of the same shape, so these are named one by one.
    re_path(
        rf"^groups/(?P<pk>[0-9]+)/(?P<path>{'|'.join(GROUP_DEEDS)})/$",
        views.group_deed,
        name="group_deed",
    ),
    re_path(
        rf"^cases/(?P<pk>[0-9]+)/(?P<path>{'|'.join(CASE_DEEDS)})/$",
        views.case_deed,
        name="case_deed",
    ),
    re_path(
        rf"^(?P<pk>[0-9]+)/(?P<path>{'|'.join(ANIMAL_DEEDS)})/$",
        views.animal_deed,
        name="animal_deed",
    ),
]
offer(Animal, ANIMAL_DEEDS, "afar:animal_deed")
offer(Group, GROUP_DEEDS, "afar:group_deed")
offer(EggCase, CASE_DEEDS, "afar:case_deed")
offer(Custody, CUSTODY_DEEDS, "afar:custody_deed")
offer(News, NEWS_DEEDS, "afar:news_deed")
