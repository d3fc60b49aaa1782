"""The app of this slice."""

from django.apps import AppConfig


class QuestionsConfig(AppConfig):
    """Questions raised by staff, and their triage."""

    name = "registry.questions"
    label = "questions"
