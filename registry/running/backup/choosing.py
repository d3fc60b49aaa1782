"""What a backup takes along, and what it leaves behind and why."""

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import models
from django.tasks import TaskResultStatus

LEFT_OUT = {
    "contenttypes.contenttype": "made anew by every migrate; no row of ours speaks of it",
    "auth.permission": "made anew by every migrate; who may stands in the program",
    "auth.group": "not used; who may stands in the program",
    "auth.group_permissions": "not used; who may stands in the program",
    "sessions.session": "whoever was signed in signs in again",
    "search.searchdocument": "the index is made anew from the rows",
    "search.searchword": "the index is made anew from the rows",
    "account.emailconfirmation": "a link that was sent runs out by itself",
}
"""Tables that stay behind, and why."""

TAKEN_OF_OTHERS = {
    "django_tasks_database.dbtaskresult": (
        "what waits is done after a restore; what was running at the time is left out, for nobody"
        " is at work on it any more, and a check that broke off is queued again by itself"
    ),
    "mfa.authenticator": (
        "without the second factor nobody who has one could sign in; it is sealed with the site’s"
        " secret key, which goes along only when it is asked for"
    ),
    "account.emailaddress": "the addresses that were proved",
}
"""Tables that are not our own and are taken along, and why. Of our own every one is taken: people
with the digests of their passwords, so that they can sign in, and tokens by their digest alone."""


def is_ours(model: type[models.Model]) -> bool:
    """Say whether a model is the project's own."""
    return model.__module__.split(".")[0] in {"registry", "archive"}


def undecided() -> list[str]:
    """Give the tables of others about which nothing is said above; there should be none."""
    decided = LEFT_OUT.keys() | TAKEN_OF_OTHERS.keys()
    return sorted(
        model._meta.label_lower
        for model in _tables()
        if not is_ours(model) and model._meta.label_lower not in decided
    )


def _tables() -> Iterator[type[models.Model]]:
    for model in apps.get_models(include_auto_created=True):
        if model._meta.managed and not model._meta.proxy:
            yield model


def taken() -> list[type[models.Model]]:
    """Give the tables that are taken along; one that nobody decided on is taken, to be safe."""
    return [model for model in _tables() if model._meta.label_lower not in LEFT_OUT]


def rows_of(model: type[models.Model]) -> models.QuerySet[Any]:
    """Give the rows of a table that are taken along, in the order of their keys."""
    rows = model._default_manager.order_by("pk")
    if model._meta.label_lower == "django_tasks_database.dbtaskresult":
        rows = rows.exclude(status=TaskResultStatus.RUNNING)
    return rows


def fields_of(model: type[models.Model]) -> list[models.Field[Any, Any]]:
    """Give the columns that are written, in the model's order; those it reckons by itself not."""
    return [one for one in model._meta.concrete_fields if not one.generated]
