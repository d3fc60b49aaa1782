"""The addresses of this slice."""

from django.urls import path

from registry.desk import views

urlpatterns = [
    path("", views.today, name="today"),
    path("search/", views.search, name="search"),
    path("words/", views.words, name="words"),
    path("help/", views.help_page, name="help"),
]
