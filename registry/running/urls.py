"""The addresses of this slice."""

from django.urls import path

from registry.running import views

app_name = "running"
urlpatterns = [
    path("running/", views.look, name="look"),
    path("healthy/", views.healthy, name="healthy"),
]
