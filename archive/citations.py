"""How a version is cited, from its row."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import timezone

from archive.exports.citation import Citation, Creator
from archive.models import Version


def citation_of(
    *,
    identifier: str,
    title: str,
    number: str,
    creators: Sequence[dict[str, Any]],
    issued: date,
    slug: str,
    licence: str,
    abstract: str = "",
) -> Citation:
    """Give what a citation is made of."""
    return Citation(
        identifier=identifier,
        title=title,
        version=number,
        creators=tuple(
            Creator(
                family=one["family"],
                given=one["given"],
                orcid=one["orcid"],
                affiliation=one["affiliation"],
                is_body=not one["given"],
            )
            for one in creators
        ),
        publisher=f"{settings.SITE_NAME} and {settings.PARTNER_NAME}",
        issued=issued,
        url=f"{settings.SITE_ADDRESS}/archive/versions/{slug}/",
        licence=licence,
        abstract=abstract,
    )


def citation(version: Version) -> Citation:
    """Give the citation of a version."""
    return citation_of(
        identifier=version.identifier,
        title=version.dataset.title,
        number=version.number,
        creators=version.creators,
        issued=timezone.localdate(version.accepted_at),
        slug=version.slug,
        licence=version.licence,
        abstract=str(version.descriptor.get("description", "")),
    )
