"""The addresses of the collection."""

from django.urls import path

from registry.animals import (
    egg_views,
    export_views,
    identity_views,
    intake_views,
    kin_views,
    loan_views,
    stock_views,
    views,
)
from registry.animals.forms import (
    ANIMAL_DEEDS,
    CASE_DEEDS,
    ENCLOSURE_DEEDS,
    GROUP_DEEDS,
    INTAKE_DEEDS,
    LOAN_DEEDS,
    MARK_DEEDS,
    PHOTOGRAPH_DEEDS,
    RESTRICTION_DEEDS,
)
from registry.animals.models import (
    Animal,
    EggCase,
    Enclosure,
    Group,
    Intake,
    Loan,
    Mark,
    Photograph,
    Restriction,
)
from registry.web import offer

app_name = "animals"
urlpatterns = [
    path("", views.collection, name="list"),
    path("animals.csv", export_views.animals_csv, name="csv"),
    path("animals.xlsx", export_views.animals_xlsx, name="xlsx"),
    path("darwin-core.csv", export_views.darwin_core_csv, name="darwin_core"),
    path("darwin-core.zip", export_views.darwin_core_archive, name="darwin_core_archive"),
    path("receive/", views.receive, name="receive"),
    path("import/", intake_views.bring, name="import"),
    path("import/animals.csv", intake_views.template, name="import_template"),
    path("import/<str:sha256>/", intake_views.look, name="import_look"),
    path("imports/", intake_views.intakes, name="intakes"),
    path("imports/<int:pk>/", intake_views.intake, name="intake"),
    path("imports/<int:pk>/<slug:path>/", intake_views.intake_deed, name="intake_deed"),
    path("stocklist/", stock_views.stocklist, name="stocklist"),
    path("stocklist.csv", stock_views.stocklist_csv, name="stocklist_csv"),
    path("stocklist.pdf", stock_views.stocklist_pdf, name="stocklist_pdf"),
    path("taxa/", views.taxon_list, name="taxa"),
    path("taxa/add/", views.add_taxon, name="add_taxon"),
    path("taxa/<int:pk>/kin/", kin_views.kin, name="kin"),
    path("taxa/<int:pk>/kinship.csv", kin_views.kin_csv, name="kin_csv"),
    path("enclosures/", views.enclosure_list, name="enclosures"),
    path("enclosures/open/", views.open_enclosure, name="open_enclosure"),
    path("enclosures/<int:pk>/", views.enclosure, name="enclosure"),
    path("enclosures/<int:pk>/who/", identity_views.who, name="who"),
    path("enclosures/<int:pk>/who.pdf", identity_views.who_printed, name="who_printed"),
    path("enclosures/<int:pk>/<slug:path>/", views.enclosure_deed, name="enclosure_deed"),
    path("groups/receive/", views.receive_group, name="receive_group"),
    path("groups/<int:pk>/", views.group, name="group"),
    path("groups/<int:pk>/<slug:path>/", views.group_deed, name="group_deed"),
    path("cases/", egg_views.case_list, name="cases"),
    path("cases/record/", egg_views.record_case, name="record_case"),
    path("cases/<int:pk>/", egg_views.case, name="case"),
    path("cases/<int:pk>/<slug:path>/", egg_views.case_deed, name="case_deed"),
    path("restrictions/", views.restriction_list, name="restrictions"),
    path("restrictions/<int:pk>/", views.restriction, name="restriction"),
    path("restrictions/<int:pk>/<slug:path>/", views.restriction_deed, name="restriction_deed"),
    path("marks/", identity_views.mark_list, name="marks"),
    path("marks/<int:pk>/", identity_views.mark, name="mark"),
    path("marks/<int:pk>/<slug:path>/", identity_views.mark_deed, name="mark_deed"),
    path("photographs/<int:pk>/", identity_views.photograph, name="photograph"),
    path(
        "photographs/<int:pk>/large.jpg",
        identity_views.picture,
        {"size": "large"},
        name="picture_large",
    ),
    path(
        "photographs/<int:pk>/small.jpg",
        identity_views.picture,
        {"size": "small"},
        name="picture_small",
    ),
    path(
        "photographs/<int:pk>/<slug:path>/", identity_views.photograph_deed, name="photograph_deed"
    ),
    path("loans/", loan_views.loan_list, name="loans"),
    path("loans/<int:pk>/", loan_views.loan, name="loan"),
    path("loans/<int:pk>/<slug:path>/", loan_views.loan_deed, name="loan_deed"),
    path("unmarked/", identity_views.unmarked, name="unmarked"),
    path("<int:pk>/", views.animal, name="animal"),
    path("<int:pk>/<slug:path>/", views.animal_deed, name="deed"),
]
offer(Animal, ANIMAL_DEEDS, "animals:deed")
offer(Group, GROUP_DEEDS, "animals:group_deed")
offer(Enclosure, ENCLOSURE_DEEDS, "animals:enclosure_deed")
offer(EggCase, CASE_DEEDS, "animals:case_deed")
offer(Loan, LOAN_DEEDS, "animals:loan_deed")
offer(Intake, INTAKE_DEEDS, "animals:intake_deed")
offer(Restriction, RESTRICTION_DEEDS, "animals:restriction_deed")
offer(Mark, MARK_DEEDS, "animals:mark_deed")
offer(Photograph, PHOTOGRAPH_DEEDS, "animals:photograph_deed")
