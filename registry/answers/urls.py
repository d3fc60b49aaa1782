"""The addresses of this slice."""

from django.urls import path, re_path

from registry.answers import views
from registry.answers.forms import ANSWER_DEEDS, OUTPUT_DEEDS, PROJECT_DEEDS, QUESTION_DEEDS
from registry.answers.models import Answer, Output
from registry.projects.models import Project
from registry.questions.models import Question
from registry.web import offer

app_name = "answers"
urlpatterns = [
    path("answers/<int:pk>/", views.answer, name="answer"),
    path("answers/<int:pk>/answer.pdf", views.answer_pdf, name="answer_pdf"),
    path("outputs/", views.output_list, name="outputs"),
    path("outputs/<int:pk>/", views.output, name="output"),
    path("outputs/<int:pk>/<slug:path>/", views.output_deed, name="output_deed"),
    path("report/", views.year_report, name="year_report"),
    path("report/research.pdf", views.year_report_pdf, name="year_report_pdf"),
    path("report/research.csv", views.year_report_csv, name="year_report_csv"),
    path("answers/<int:pk>/<slug:path>/", views.answer_deed, name="answer_deed"),
    path("projects/<int:pk>/<slug:path>/", views.project_deed, name="project_deed"),
    # The questions slice has deeds at addresses of the same shape, so these are named one by one.
    re_path(
        rf"^(?P<pk>[0-9]+)/(?P<path>{'|'.join(QUESTION_DEEDS)})/$",
        views.question_deed,
        name="question_deed",
    ),
]
offer(Question, QUESTION_DEEDS, "answers:question_deed")
offer(Answer, ANSWER_DEEDS, "answers:answer_deed")
offer(Project, PROJECT_DEEDS, "answers:project_deed")
offer(Output, OUTPUT_DEEDS, "answers:output_deed")
