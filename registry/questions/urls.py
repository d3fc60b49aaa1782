"""The addresses of questions."""

from django.urls import path

from registry.questions import views
from registry.questions.forms import DEEDS
from registry.questions.models import Question
from registry.web import offer

app_name = "questions"
urlpatterns = [
    path("", views.question_list, name="list"),
    path("post/", views.post, name="post"),
    path("similar/", views.similar, name="similar"),
    path("<int:pk>/", views.question, name="question"),
    path("<int:pk>/<slug:path>/", views.deed, name="deed"),
]
offer(Question, DEEDS, "questions:deed")
