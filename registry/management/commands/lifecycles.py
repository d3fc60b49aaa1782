"""Print what may follow, from each kind's lifecycle."""

from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management.base import BaseCommand, CommandParser

from registry.lifecycle import Lifecycle
from registry.tables import markdown, put_between

HEADINGS = ("object", "state", "verb", "then")


def lifecycles() -> list[Lifecycle]:
    """Give every lifecycle that a model lives by, in the order of the slices."""
    found = (getattr(model, "lifecycle", None) for model in apps.get_models())
    return [one for one in found if isinstance(one, Lifecycle)]


def rows(lifecycle: Lifecycle) -> list[tuple[str, ...]]:
    """Give a lifecycle's rows: verbs that lead on each by itself, those that stay in one."""
    told: list[tuple[str, ...]] = []
    for state in lifecycle.states:
        stays = []
        for verb in lifecycle.verbs_from(state):
            after = lifecycle.steps[state, verb]
            star = "*" if verb in lifecycle.reasons else ""
            if after == state:
                stays.append(f"{verb}{star}")
            else:
                told.append((lifecycle.kind, said(state), f"{verb}{star}", said(after)))
        if stays:
            told.append((lifecycle.kind, said(state), ", ".join(stays), "stays"))
    return told


def said(word: str) -> str:
    """Write a state as people say it."""
    return word.replace("_", " ")


def table() -> str:
    """Give every lifecycle as one Markdown table."""
    return markdown(HEADINGS, [row for one in lifecycles() for row in rows(one)])


class Command(BaseCommand):
    help = "Print what may follow as a table; --write puts it into DEVELOPERS.md."
    requires_system_checks = []  # it reads the code, not the database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--write", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["write"]:
            put_between(options["write"], "lifecycles", table())
        else:
            self.stdout.write(table())
