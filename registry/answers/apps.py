"""The app of this slice."""

from django.apps import AppConfig


class AnswersConfig(AppConfig):
    """Plain summaries with their evidence, and what changed in husbandry."""

    name = "registry.answers"
    label = "answers"
