"""Where a version's page leads programs: linked data, typed links, files that one may read."""

from pathlib import PurePosixPath
from typing import Any

from django.conf import settings

from archive.citations import citation
from archive.columnar import copies_of
from archive.exports import linked
from archive.exports.descriptor import FORMATS
from archive.exports.linked import Download, Link
from archive.models import Version

CSV_OF = {f".{name}": media for name, media in FORMATS.items()}


def address_of(version: Version) -> str:
    """Give the whole address of a version's page."""
    return f"{settings.SITE_ADDRESS}{version.get_absolute_url()}"


def resolver_of(version: Version) -> str:
    """Give the address at which the version's identifier is resolved."""
    name = version.identifier.rpartition("/")[2]
    return f"{settings.SITE_ADDRESS}/archive/ark/{name}/"


def downloads_of(version: Version, *, is_open: bool) -> list[Download]:
    """Give the files that can be taken away; none where they are closed to the reader."""
    if not is_open:
        return []
    page = address_of(version)
    files = [
        Download(
            f"{page}{logical}",
            CSV_OF.get(PurePosixPath(logical).suffix.lower(), "application/octet-stream"),
            PurePosixPath(logical).name,
            facts["bytes"],
            facts["sha256"],
        )
        for logical, facts in sorted(version.manifest.items())
        if logical.startswith("data/")
    ]
    copies = [
        Download(
            f"{page}columns/{name}.parquet",
            "application/vnd.apache.parquet",
            f"{name}.parquet",
            size,
        )
        for name, size in copies_of(version)
    ]
    return [*files, *copies, Download(f"{page}package.zip", "application/zip", "package.zip")]


def linked_data(version: Version, *, is_open: bool) -> dict[str, Any]:
    """Give the version as linked data."""
    taxon = version.dataset.project.study.taxon
    return linked.dataset(
        citation(version),
        version.descriptor,
        downloads_of(version, is_open=is_open),
        resolver=resolver_of(version),
        taxa=[taxon.scientific_name] if taxon else [],
    )


def links_of(version: Version, *, is_open: bool) -> list[Link]:
    """Give the typed links of the version's page."""
    page = address_of(version)
    records = [
        Link("describedby", f"{page}citation.xml", "application/vnd.datacite.datacite+xml"),
        Link("describedby", f"{page}citation.jsonld", "application/ld+json", linked.VOCABULARY),
    ]
    if is_open:
        records.append(Link("describedby", f"{page}datapackage.json", "application/json"))
    return linked.links(
        citation(version),
        downloads_of(version, is_open=is_open),
        resolver=resolver_of(version),
        records=records,
        linkset=f"{page}linkset.json",
    )
