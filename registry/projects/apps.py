"""The app of this slice."""

from django.apps import AppConfig


class ProjectsConfig(AppConfig):
    """Studies, projects, members and plans."""

    name = "registry.projects"
    label = "projects"
