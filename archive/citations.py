"""How a version is cited, from its row."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from django.conf import settings
from django.utils import timezone

from archive.engine.roles import FieldRole, fields_of, fields_with_role
from archive.exports.citation import NAME_REMOVED, Citation, Creator
from archive.models import Deposit, Version

POOLED = "x:pooled"
CITED = "dataset__project__study__taxon"
"""What a citation reads beside the version itself: for `select_related`."""


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
    sources: Sequence[str] = (),
    keywords: Sequence[str] = (),
    registered: str = "",
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
        sources=tuple(sources),
        keywords=tuple(keywords),
        registered=registered,
    )


def sources_of(deposit: Deposit) -> list[Version]:
    """Give the versions that a deposit was pooled out of, oldest first; none as a rule."""
    if deposit.pool is None:
        return []
    return list(deposit.pool.sources.select_related("dataset").order_by("accepted_at", "pk"))


def _keywords(version: Version) -> list[str]:
    """Give what it is about in words: the animal, and what was measured or watched."""
    study = version.dataset.project.study
    taxon = study.taxon
    words = [taxon.common_name, taxon.scientific_name] if taxon else []
    for resource in version.descriptor["resources"]:
        schema = resource.get("schema") or {}
        asked = fields_with_role(schema, FieldRole.OUTCOME, FieldRole.BEHAVIOUR)
        words += [
            str(field.get("title") or field["name"])
            for field in fields_of(schema)
            if field["name"] in asked
        ]
    return list(dict.fromkeys(word for word in words if word)) or [study.title]


def citation(version: Version) -> Citation:
    """Give the citation of a version."""
    made = citation_of(
        identifier=version.identifier,
        title=version.dataset.title,
        number=version.number,
        creators=version.creators,
        issued=timezone.localdate(version.accepted_at),
        slug=version.slug,
        licence=version.licence,
        abstract=str(version.descriptor.get("description", "")),
        keywords=_keywords(version),
        registered=version.registered,
        sources=[
            one["identifier"] for one in version.descriptor.get(POOLED, {}).get("sources", ())
        ],
    )
    return replace(made, creators=(NAME_REMOVED,)) if version.is_nameless else made
