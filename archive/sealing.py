"""Make an accepted deposit into one write-once object of the store, before any row speaks of it."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import Any

from django.conf import settings
from django.utils import timezone

from archive.citations import POOLED, citation_of, sources_of
from archive.engine.descriptor import (
    Descriptor,
    file_format,
    find_descriptor,
    hold_against,
    is_table,
    read_descriptor,
)
from archive.engine.exact_places import generalisations
from archive.engine.intake import Recipe
from archive.exports import citation as cited
from archive.exports.descriptor import (
    Contributor,
    ResourceFacts,
    Source,
    VersionFacts,
    descriptor_text,
    published,
)
from archive.exports.identifier import parse, qualify
from archive.exports.licences import licence_of, notice
from archive.models import Deposit, IntakeRecipe, Mending, PooledTable, Version
from archive.places import check_limits, store
from archive.recipes import mendings_in, recipes_in
from archive.rounds import lay_out, package_of, path_of, room_of
from archive.storage.contract import Manifest
from registry.errors import Conflict, Unsound
from registry.ledger.models import Entry
from registry.people.models import Person

_ODD = re.compile(r"[^A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Sealed:
    """What the store holds of a version whose row is not written yet."""

    number: str
    identifier: str
    slug: str
    descriptor: dict[str, Any]
    manifest: dict[str, dict[str, Any]]
    seal: str
    creators: list[dict[str, Any]]
    rows: int
    bytes: int


def seal(
    deposit: Deposit, *, number: str, licence: str, creators: list[dict[str, Any]], by: Person
) -> Sealed:
    """Write the object of a version into the store, and say what it holds.

    Doing it twice with the same terms gives the same object. One that a broken-off acceptance left
    under the identifier, and that no row speaks of, gives way. Call it with the dataset's lock.

    Raises
    ------
    Unsound
        When the files are no longer those that were checked.
    StoreFailed
        When the store cannot take it.
    """
    identifier = qualify(deposit.dataset.identifier, number)
    slug = f"{parse(identifier).name}-v{number.replace('.', '-')}"
    package = package_of(deposit)
    if find_descriptor(package) is None:
        package = lay_out(deposit)
    submitted, folder = _submitted(deposit, package)
    files, expected = _files(deposit, submitted, folder)
    descriptor = _descriptor(deposit, submitted, files, number, identifier, slug, licence, creators)
    recipes = _recipes(deposit, expected)
    if recipes:
        kept = ("table", "original", "original_sha256", "result")
        descriptor["x:intake"] = [{key: one[key] for key in kept} for one in recipes]
    about = citation_of(
        identifier=identifier,
        title=deposit.dataset.title,
        number=number,
        creators=creators,
        issued=timezone.localdate(deposit.checked_at),
        slug=slug,
        licence=licence,
    )
    with TemporaryDirectory(prefix="seal-") as room:
        texts = {
            "datapackage.json": descriptor_text(descriptor),
            "LICENSE": notice(licence_of(licence), cited.text(about)),
        }
        if recipes:
            texts["recipe.json"] = json.dumps(recipes, ensure_ascii=False, indent=2) + "\n"
        if mendings := _mendings(deposit, expected):
            texts["corrections.json"] = json.dumps(mendings, ensure_ascii=False, indent=2) + "\n"
        for name, text in texts.items():
            (Path(room) / name).write_text(text, encoding="utf-8")
            files[name] = Path(room) / name
        manifest = _publish(identifier, files, expected, deposit, by)
    return Sealed(
        number=number,
        identifier=identifier,
        slug=slug,
        descriptor=descriptor,
        manifest={
            file.logical: {"bytes": file.bytes, "sha256": file.sha256, "sha512": file.sha512}
            for file in manifest.files
        },
        seal=store().seal_of(identifier),
        creators=creators,
        rows=sum(table["rows"] for table in deposit.summary["tables"]),
        bytes=sum(file.bytes for file in manifest.files if file.logical.startswith("data/")),
    )


def _publish(
    identifier: str, files: dict[str, Path], expected: dict[str, str], deposit: Deposit, by: Person
) -> Manifest:
    assert deposit.checked_at is not None
    held = store()

    def once() -> Manifest:
        assert deposit.checked_at is not None
        return held.publish(
            identifier,
            files,
            message=f"Deposit {deposit.pk}, round {deposit.round}",
            user_name=f"person {by.pk}",
            created=deposit.checked_at,
            expected=expected,
        )

    try:
        return once()
    except Conflict:
        if Version.objects.filter(identifier=identifier).exists():
            raise
        held.erase(identifier)
        return once()


def _submitted(deposit: Deposit, package: Path) -> tuple[Descriptor, Path]:
    """Give the descriptor that was deposited, with the dictionary's schemas, and its folder."""
    path = find_descriptor(package)
    descriptor = read_descriptor(path, check_limits())[0] if path else None
    if path is None or descriptor is None:
        raise Unsound(
            "The deposit was not accepted.",
            "Its package is no longer where it was checked.",
            "Have it submitted again.",
        )
    if deposit.dictionary is not None:
        descriptor = hold_against(descriptor, deposit.dictionary.descriptor)[0]
    return descriptor, path.parent


def _files(
    deposit: Deposit, submitted: Descriptor, folder: Path
) -> tuple[dict[str, Path], dict[str, str]]:
    """Give the object's files by their paths in it, with the digests that they must have."""
    files: dict[str, Path] = {}
    expected: dict[str, str] = {}
    made = recipes_in(deposit)
    for received in deposit.files.filter(is_dropped=False):
        if received.name not in made:
            files[f"original/{received.name}"] = path_of(received)
            expected[f"original/{received.name}"] = received.sha256
    for recipe in made.values():
        logical = original_path(recipe, expected)
        files[logical] = path_of(recipe.source)
        expected[logical] = recipe.source_sha256
    for mending in mendings_in(deposit):
        files.setdefault(_before(mending), path_of(mending.source))
        expected.setdefault(_before(mending), mending.source.sha256)
    checked = {
        one["name"]: one["sha256"]
        for part in ("tables", "files")
        for one in deposit.summary.get(part, [])
    }
    for resource in submitted["resources"]:
        logical = data_path(resource)
        files[logical] = folder / resource["path"]
        expected[logical] = checked[resource["name"]]
    room = room_of(deposit)
    for name in ("report.json", "findings.jsonl"):
        if (room / name).is_file():
            files[name] = room / name
    return files, expected


def original_path(recipe: IntakeRecipe, expected: Mapping[str, str]) -> str:
    """Give the path under which the file that a recipe was made for is kept as it came."""
    logical = f"original/{recipe.source.name}"
    if expected.get(logical, recipe.source_sha256) == recipe.source_sha256:
        return logical
    return f"original/{recipe.source_sha256[:12]}-{recipe.source.name}"


def _before(mending: Mending) -> str:
    """Give the path under which a file is kept as it was before a correction."""
    return f"original/{mending.source.sha256[:12]}-{mending.source.name}"


def _mendings(deposit: Deposit, expected: Mapping[str, str]) -> list[dict[str, Any]]:
    """Give the corrections that led to the files, in words and as they can be made again."""
    return [
        {
            "original": _before(one),
            "original_sha256": expected[_before(one)],
            "result": one.result.name,
            "result_sha256": one.result.sha256,
            "said": one.said,
            "corrections": one.corrections,
            "cells": one.cells,
            "rows_left_out": one.rows_left_out,
            "made_at": one.made_at.astimezone(UTC).isoformat(timespec="seconds"),
        }
        for one in reversed(mendings_in(deposit))
    ]


def _recipes(deposit: Deposit, expected: Mapping[str, str]) -> list[dict[str, Any]]:
    """Give how each converted table was made, in words and as it can be repeated."""
    told = []
    for name, recipe in sorted(recipes_in(deposit).items()):
        digest = recipe.result_sha256
        data = [path for path in expected if path.startswith("data/") and expected[path] == digest]
        told.append(
            {
                "table": recipe.table,
                "original": original_path(recipe, expected),
                "original_sha256": recipe.source_sha256,
                "result": data[0] if data else name,
                "result_sha256": digest,
                "steps": Recipe.from_json(json.dumps(recipe.recipe)).words(),
                "recipe": recipe.recipe,
                "row_map": recipe.row_map,
                "left": recipe.left,
                "made_at": recipe.made_at.astimezone(UTC).isoformat(timespec="seconds"),
            }
        )
    return told


def data_path(resource: Descriptor) -> str:
    """Give the path under which a file of the package is published."""
    ending = PurePosixPath(resource["path"]).suffix.lower()
    if is_table(resource):
        ending = f".{file_format(resource)}"
    return f"data/{_ODD.sub('-', str(resource['name'])).strip('-')}{ending}"


def _descriptor(
    deposit: Deposit,
    submitted: Descriptor,
    files: dict[str, Path],
    number: str,
    identifier: str,
    slug: str,
    licence: str,
    creators: list[dict[str, Any]],
) -> dict[str, Any]:
    assert deposit.checked_at is not None
    tables = {one["name"]: one for one in deposit.summary["tables"]}
    study = deposit.dataset.project.study
    told = submitted.get("description")
    facts = VersionFacts(
        identifier=identifier,
        title=deposit.dataset.title,
        version=number,
        created=deposit.checked_at,
        licences=(licence,),
        contributors=tuple(_contributor(one) for one in creators),
        resources=tuple(
            ResourceFacts(
                name=resource["name"],
                path=data_path(resource),
                bytes=tables[resource["name"]]["bytes"],
                sha256=tables[resource["name"]]["sha256"],
                format=file_format(resource),
            )
            for resource in submitted["resources"]
            if is_table(resource)
        ),
        description=told if isinstance(told, str) and told else study.aim,
        homepage=f"{settings.SITE_ADDRESS}/archive/versions/{slug}/",
        sources=tuple(
            Source(str(one), f"{settings.SITE_ADDRESS}{one.get_absolute_url()}", one.number)
            for one in sources_of(deposit)
        ),
    )
    only_tables = [resource for resource in submitted["resources"] if is_table(resource)]
    whole = published({**submitted, "resources": only_tables}, facts)
    others = {one["name"]: one for one in deposit.summary.get("files", [])}
    rest = [
        {
            "name": resource["name"],
            "path": data_path(resource),
            "type": "file",
            "bytes": others[resource["name"]]["bytes"],
            "hash": f"sha256:{others[resource['name']]['sha256']}",
        }
        for resource in submitted["resources"]
        if not is_table(resource)
    ]
    listed = whole["resources"]
    whole["resources"] = [*(listed if isinstance(listed, list) else []), *rest]
    # The ledger's digest at the check, so that every copy of the package anchors the chain.
    checked = Entry.objects.about(deposit).order_by("-number").values("number", "digest").first()
    whole["x:ledger"] = checked
    if deposit.pool is not None:
        whole[POOLED] = _pooled(deposit.pool, deposit)
    if said := generalisations(submitted["resources"]):
        whole["x:dataGeneralizations"] = said
    made: dict[str, Any] = json.loads(descriptor_text(whole))
    return made


def _pooled(pool: PooledTable, deposit: Deposit) -> dict[str, Any]:
    """Give what a pooled table was made of, and by which rules, as it can be made again."""
    return {
        "dictionary": f"version {pool.dictionary.number} of {pool.study}",
        "table": pool.table,
        "sources": [
            {"identifier": one.identifier, "title": str(one), "licence": one.licence}
            for one in sources_of(deposit)
        ],
        "mappings": [one.mapped.as_dict() for one in pool.mappings.order_by("pk")],
    }


def _contributor(creator: dict[str, Any]) -> Contributor:
    return Contributor(
        title=f"{creator['given']} {creator['family']}".strip(),
        given=creator["given"],
        family=creator["family"],
        orcid=creator["orcid"],
        organisation=creator["affiliation"],
        roles=(creator["role"],),
    )
