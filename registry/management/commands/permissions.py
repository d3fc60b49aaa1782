"""Print who may do what, from the one table."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from registry.permissions import TABLE, Role, Row, Verb
from registry.tables import markdown, put_between

HEADINGS = ("verb", "what", "who", "where")


def scope_said(row: Row) -> str:
    """Give one row's scope in words."""
    return (row.scope.__doc__ or "").strip().splitlines()[0].rstrip(".").lower()


def rows() -> list[tuple[str, ...]]:
    """Give the table's rows in the order of the verbs."""
    order = {verb: place for place, verb in enumerate(Verb)}
    roles = list(Role)
    return [
        (
            f"`{row.verb}`",
            row.verb.label,
            ", ".join(role.label for role in roles if role in row.roles),
            scope_said(row),
        )
        for row in sorted(TABLE, key=lambda row: order[row.verb])
    ]


def table() -> str:
    """Give the table of permissions as Markdown."""
    return markdown(HEADINGS, rows())


class Command(BaseCommand):
    help = "Print who may do what as a table; --write puts it into DEVELOPERS.md."
    requires_system_checks = []  # it reads the code, not the database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--write", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["write"]:
            put_between(options["write"], "permissions", table())
        else:
            self.stdout.write(table())
