"""The addresses of the ledger."""

from django.urls import path

from registry.ledger import views

app_name = "ledger"
urlpatterns = [
    path("ledger/", views.ledger, name="list"),
    path("ledger/<int:number>/", views.entry, name="entry"),
    path("ledger/about/<str:subject>/", views.about, name="about"),
]
