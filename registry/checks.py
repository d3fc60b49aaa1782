"""What `manage.py check` says of how the site is set up, before strangers meet it."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.core.checks import Warning as Doubt
from django.db import DatabaseError
from django.utils.module_loading import import_string

from archive.storage.address import BucketAddress
from registry.permissions import STANDINGS

_THIS_MACHINE = {"localhost", "127.0.0.1", "[::1]"}


@register(Tags.security)
def surroundings(app_configs: Any = None, **more: Any) -> list[CheckMessage]:
    """Look at the variables and the folders; nothing is said while the site is worked on."""
    found: list[CheckMessage] = list(_standings())
    if not settings.DEBUG and not settings.TESTING:
        found += [*_https(), *_folders()]
    return found


@register(Tags.security, deploy=True)
def demo_passwords(app_configs: Any = None, **more: Any) -> list[CheckMessage]:
    """Look whether someone signs in with the demo's password, which everybody can read."""
    if settings.DEBUG or settings.TESTING:
        return []
    # By name: the demo stands above everything, and models are not ready when this file is read.
    password = import_string("registry.demo.people.PASSWORD")
    person = apps.get_model("people", "Person")
    try:
        of_demo = person._default_manager.filter(
            is_active=True, email__endswith=".example"
        ).exclude(
            password__startswith="!"  # noqa: S106 - how Django marks that there is none
        )
        held = next((one for one in of_demo[:20] if one.check_password(password)), None)
    except DatabaseError:  # not migrated yet: there is nobody
        return []
    if held is None:
        return []
    return [
        Doubt(
            f"{held.email} signs in with the demo’s password, which everybody can read.",
            hint="Begin a real site with a fresh database, not with the demo.",
            id="strandline.W003",
        )
    ]


def _standings() -> Iterator[CheckMessage]:
    known = [str(role) for role in STANDINGS]
    if unknown := sorted(settings.SECOND_FACTOR_FOR - set(known)):
        yield Error(
            f"STRANDLINE_SECOND_FACTOR_FOR names {', '.join(unknown)}, which is no standing.",
            hint=f"Choose from {', '.join(known)}.",
            id="strandline.E001",
        )


def _https() -> Iterator[CheckMessage]:
    if not settings.IS_HTTPS:
        return
    if not os.environ.get("STRANDLINE_SECRET_KEY"):
        yield Doubt(
            "The secret key lies in the folder of VAR, beside what it protects.",
            hint="Set STRANDLINE_SECRET_KEY, and keep it apart from the backups.",
            id="strandline.W001",
        )
    if set(settings.ALLOWED_HOSTS) <= _THIS_MACHINE:
        yield Doubt(
            "The site goes by the names of this machine alone, so that nobody else reaches it.",
            hint="Set STRANDLINE_HOSTS to the names by which people come.",
            id="strandline.W002",
        )


def _folders() -> Iterator[CheckMessage]:
    stores = (("STORE", settings.STORE), ("SECOND_STORE", settings.SECOND_STORE))
    for variable, folder in (("VAR", settings.VAR), *stores):
        if folder is None:
            continue
        if isinstance(folder, BucketAddress):
            yield from _keys_of(variable, folder)
            continue
        nearest = _nearest(Path(folder))
        if not nearest.is_dir() or not os.access(nearest, os.W_OK | os.X_OK):
            yield Error(
                f"{folder} cannot be written to.",
                hint=f"Let the site’s account write there, or set STRANDLINE_{variable}.",
                id="strandline.E002",
            )


def _keys_of(variable: str, bucket: BucketAddress) -> Iterator[CheckMessage]:
    if not bucket.key_id or not bucket.secret:
        yield Error(
            f"Nothing says who asks the object store {bucket.said}, or by which secret.",
            hint=f"Set STRANDLINE_{variable}_KEY_ID and STRANDLINE_{variable}_SECRET.",
            id="strandline.E003",
        )


def _nearest(folder: Path) -> Path:
    """Give the folder, or, while it is not there, the one in which it would be made."""
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return folder
