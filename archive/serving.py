"""Bytes of versions over HTTP: whole or in part, with their digest as tag, behind one check."""

import io
import re
from collections.abc import Callable, Iterator
from functools import wraps
from pathlib import PurePosixPath
from typing import IO, Any

from django.http import (
    FileResponse,
    HttpRequest,
    HttpResponse,
    HttpResponseNotModified,
    JsonResponse,
    StreamingHttpResponse,
)
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.http import parse_etags
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from archive.citations import citation
from archive.columnar import folder_of
from archive.exports import citation as cited
from archive.exports import crate, datacite
from archive.exports.bag import Payload, tag_files
from archive.exports.descriptor import FORMATS
from archive.exports.safe_csv import safe_copy
from archive.exports.tombstone import Reason, Withdrawn, tombstone
from archive.exports.zip import Entry, stream_zip
from archive.models import Taken, Version
from archive.places import store
from archive.taking import counted
from registry.errors import Gone, NotPermitted, Refusal, StoreFailed, Unseen
from registry.people.tokens import TokenAuthentication
from registry.permissions import Verb, allowed, may
from registry.transitions import day_said
from registry.web import person_of

type View = Callable[..., HttpResponseBase]

BLOCK = 1 << 18
_RANGE = re.compile(r"bytes=(\d*)-(\d*)")
_MEDIA = {f".{name}": media for name, media in FORMATS.items()} | {".txt": "text/plain"}
_CITATIONS: dict[str, tuple[str, Callable[[cited.Citation], Any]]] = {
    "txt": ("text/plain; charset=utf-8", cited.text),
    "harvard": ("text/plain; charset=utf-8", cited.harvard),
    "bib": ("application/x-bibtex; charset=utf-8", cited.bibtex),
    "ris": ("application/x-research-info-systems; charset=utf-8", cited.ris),
    "cff": ("application/yaml; charset=utf-8", cited.cff),
    "xml": ("application/vnd.datacite.datacite+xml", datacite.record),
}
_REASONS = {
    Version.Ground.FAULTY: Reason.ERROR,
    Version.Ground.SUPERSEDED: Reason.ERROR,
    Version.Ground.CONSENT: Reason.REQUEST,
    Version.Ground.LEGAL: Reason.LAW,
}


class Withdrawal(Gone):
    """The version was withdrawn; its tombstone goes with the refusal."""

    def __init__(self, version: Version) -> None:
        super().__init__(
            "This version is no longer served.",
            f"It was {version.get_state_display()}: {version.get_ground_display()}.",
            "Its page tells what remains, and which version to use instead.",
        )
        self.stone = stone_of(version)


def stone_of(version: Version) -> dict[str, Any]:
    """Give what stands in the place of a version that was withdrawn or erased."""
    assert version.withdrawn_at is not None
    replacement = version.replaced_by
    stone = tombstone(
        Withdrawn(
            citation=citation(version),
            reason=_REASONS[Version.Ground(version.ground)],
            withdrawn_on=timezone.localdate(version.withdrawn_at),
            decided_by="the data steward",
            erased_on=timezone.localdate(version.erased_at) if version.erased_at else None,
            replacement=replacement.identifier if replacement else "",
            names_removed=version.is_nameless,
        )
    )
    return stone | {"reason": {"class": version.ground, "words": version.get_ground_display()}}


def version_of(slug: str, person: Any) -> Version:
    """Give the version of that address, that this person may know of.

    Raises
    ------
    Unseen
        When there is none.
    """
    rows = Version.objects.select_related(
        "dataset__project__study__taxon", "dictionary", "replaced_by", "deposit"
    )
    found = allowed(rows, person, Verb.VERSION_SEE).filter(slug=slug, is_published=True).first()
    if found is None:
        raise Unseen(
            "Nothing was found here.",
            "No version has that address.",
            "Check the address, or look in the archive's list.",
        )
    return found


def readable(slug: str, person: Any) -> Version:
    """Give the version of that address, where this person may read its files.

    Raises
    ------
    Unseen, Gone, NotPermitted, StoreFailed
        When there is none, it was withdrawn, its files are not open to this person, or they were
        found damaged.
    """
    version = version_of(slug, person)
    if version.state != "held":
        raise Withdrawal(version)
    if not may(person, Verb.VERSION_READ, version):
        raise NotPermitted(
            "The files of this version are not open to you.",
            why_closed(version),
            "What it is, and whom to ask, stands on its page.",
        )
    if version.is_damaged:
        raise StoreFailed(
            "The files of this version cannot be served now.",
            "Read again they were not what had been stored, and were set aside.",
            "They are put back from another copy. Ask the data steward, or come back later.",
        )
    return version


def why_closed(version: Version) -> str:
    """Say why the files of a version are not open to everyone."""
    if version.embargoed_until and version.access == Version.Access.EMBARGOED:
        return f"They are under embargo until {day_said(version.embargoed_until)}."
    return f"They are restricted: {version.restricted_because}"


def reader_of(request: HttpRequest) -> Any:
    """Give whoever reads: a person who signed in, a program with a token, or a visitor.

    Raises
    ------
    AuthenticationFailed, NotPermitted
        When a token was sent that does not hold, or whose scope does not reach so far.
    """
    person = person_of(request)
    if not person.is_anonymous:
        return person
    found = TokenAuthentication().authenticate(Request(request))
    if found is None:
        return person
    reader, token = found
    if not token.permits(Verb.VERSION_READ):
        raise NotPermitted(
            "Nothing was served.",
            _("This token may not %(label)s: its scope is “%(scope)s”.")
            % {"label": Verb.VERSION_READ.label, "scope": token.scope},
            "Make a token that may look, or send none where the version is open.",
        )
    return reader


def machine(view: View) -> View:
    """Answer a refusal in JSON: these addresses are read by programs."""

    @require_safe
    @wraps(view)
    def answered(request: HttpRequest, slug: str, **parts: Any) -> HttpResponseBase:
        try:
            return view(request, readable(slug, reader_of(request)), **parts)
        except AuthenticationFailed as failed:
            shape = {
                "code": "not_authenticated",
                "what": "Nothing was served.",
                "why": str(failed.detail),
                "next": "Send a live token, or none where the version is open.",
            }
            return JsonResponse(shape, status=401, headers={"WWW-Authenticate": "Token"})
        except Withdrawal as gone:
            return JsonResponse(gone.stone, status=gone.status)
        except Refusal as refusal:
            return JsonResponse(refusal.as_dict(), status=refusal.status)

    return answered


@machine
def descriptor(request: HttpRequest, version: Version) -> HttpResponseBase:
    """Serve the descriptor, its very bytes."""
    return _file(request, version, "datapackage.json", "application/json")


@machine
@counted(Taken.Form.TABLE)
def data(request: HttpRequest, version: Version, name: str) -> HttpResponseBase:
    """Serve one file of the data, its very bytes."""
    media = _MEDIA.get(PurePosixPath(name).suffix.lower(), "application/octet-stream")
    return _file(request, version, _("data/%(name)s") % {"name": name}, media)


@machine
@counted(Taken.Form.TABLE)
def spreadsheet(request: HttpRequest, version: Version, name: str) -> HttpResponseBase:
    """Serve a copy of a table that a spreadsheet program opens without running anything."""
    logical = _("data/%(name)s") % {"name": name}
    _facts(version, logical)
    layout = layout_of(version, logical)
    opened = store().open_file(version.identifier, logical)

    def copied() -> Iterator[bytes]:
        with opened:
            yield from safe_copy(
                opened,
                delimiter=str(layout.get("delimiter", "\t" if name.endswith(".tsv") else ",")),
                quote=str(layout.get("quoteChar", '"')),
            )

    return _streamed(
        copied(), "text/csv; charset=utf-8", f"spreadsheet-{PurePosixPath(name).stem}.csv"
    )


@machine
@counted(Taken.Form.TABLE)
def columns(request: HttpRequest, version: Version, name: str) -> HttpResponseBase:
    """Serve the typed copy of a table, whole or in part."""
    path = folder_of(version) / f"{name}.parquet"
    if not path.is_file():
        raise Unseen(
            "There is no copy of these columns.",
            "It is made soon after a version is accepted, and not of every table.",
            "Take the table itself; it is whole.",
        )
    size, heads = path.stat().st_size, {"Accept-Ranges": "bytes", "Cache-Control": "private"}
    media = "application/vnd.apache.parquet"
    if (span := _span(request, "", size)) is not None:
        return _part(path.open("rb"), span, size, media, heads)
    response = FileResponse(path.open("rb"), content_type=media, headers=heads)
    response.headers["Content-Length"] = str(size)
    return response


@machine
@counted(Taken.Form.PACKAGE)
def package(request: HttpRequest, version: Version) -> HttpResponseBase:
    """Serve the data, the descriptor and the licence as one zip, made while it is sent."""
    zipped = stream_zip(_entries(version), modified=timezone.localtime(version.accepted_at))
    return _streamed(zipped, "application/zip", f"{version.slug}.zip")


def _leaving(version: Version) -> dict[str, dict[str, Any]]:
    """Give the files that leave in a package; what was received and the report stay within."""
    return {
        logical: facts
        for logical, facts in sorted(version.manifest.items())
        if logical.startswith("data/") or logical in {"datapackage.json", "LICENSE"}
    }


def _entries(version: Version, folder: str = "") -> list[Entry]:
    held = store()
    return [
        Entry(
            f"{folder}{logical}",
            facts["bytes"],
            lambda at=logical: held.open_file(version.identifier, at),  # type: ignore[misc]  # why: the name is bound in its turn
        )
        for logical, facts in _leaving(version).items()
    ]


@machine
@counted(Taken.Form.PACKAGE)
def bag(request: HttpRequest, version: Version) -> HttpResponseBase:
    """Serve what the package holds as a zipped bag, made while it is sent."""
    about = citation(version)
    payload = {
        logical: Payload(facts["bytes"], facts["sha256"], facts["sha512"])
        for logical, facts in _leaving(version).items()
    }
    accepted = timezone.localtime(version.accepted_at)
    tags = tag_files(
        payload,
        [
            ("Source-Organization", about.publisher),
            ("External-Identifier", version.identifier),
            ("External-Description", about.title),
            ("Bagging-Date", accepted.date().isoformat()),
        ],
    )
    entries = [
        Entry(f"{version.slug}/{path}", len(content), lambda held=content: io.BytesIO(held))  # type: ignore[misc]  # why: the bytes are bound in their turn
        for path, content in tags.items()
    ]
    entries += _entries(version, f"{version.slug}/data/")
    zipped = stream_zip(entries, modified=accepted)
    return _streamed(zipped, "application/zip", f"{version.slug}-bag.zip")


@machine
@counted(Taken.Form.PACKAGE)
def crated(request: HttpRequest, version: Version) -> HttpResponseBase:
    """Serve what the package holds as a zipped crate, made while it is sent."""
    told = crate.crate(citation(version), version.descriptor).encode()
    entries = [Entry(crate.NAME, len(told), lambda: io.BytesIO(told)), *_entries(version)]
    zipped = stream_zip(entries, modified=timezone.localtime(version.accepted_at))
    return _streamed(zipped, "application/zip", f"{version.slug}-crate.zip")


@require_safe
def cite(request: HttpRequest, slug: str, form: str) -> HttpResponseBase:
    """Serve the citation of any version that was published; it outlives a withdrawal."""
    try:
        return cite_as(version_of(slug, person_of(request)), form)
    except Refusal as refusal:
        return JsonResponse(refusal.as_dict(), status=refusal.status)


def cite_as(version: Version, form: str) -> HttpResponse:
    """Give the citation in one of its forms."""
    if form == "json":
        return JsonResponse(
            cited.csl_json(citation(version)),
            safe=False,
            content_type="application/vnd.citationstyles.csl+json",
        )
    if form not in _CITATIONS:
        raise Unseen(
            "There is no citation of that form.",
            _("“%(form)s” is not one of txt, harvard, bib, ris, json, cff, xml.") % {"form": form},
            "Take one of these.",
        )
    media, write = _CITATIONS[form]
    return HttpResponse(write(citation(version)), content_type=media)


# ------------------------------------------------------------------------------- bytes


def layout_of(version: Version, logical: str) -> dict[str, Any]:
    """Give the dialect of a table, as the descriptor says it."""
    for resource in version.descriptor["resources"]:
        if resource["path"] == logical:
            return dict(resource.get("dialect", {}))
    return {}


def _facts(version: Version, logical: str) -> dict[str, Any]:
    try:
        facts: dict[str, Any] = version.manifest[logical]
    except KeyError:
        raise Unseen(
            "There is no such file in this version.",
            _("It holds no %(logical)s.") % {"logical": logical},
            "See datapackage.json for its files.",
        ) from None
    return facts


def _file(request: HttpRequest, version: Version, logical: str, media: str) -> HttpResponseBase:
    facts = _facts(version, logical)
    tag = f'"{facts["sha256"]}"'
    heads = {"ETag": tag, "Accept-Ranges": "bytes", "Cache-Control": "private, no-cache"}
    if tag in parse_etags(request.headers.get("If-None-Match", "")):
        return HttpResponseNotModified(headers=heads)
    opened = store().open_file(version.identifier, logical)
    size = facts["bytes"]
    span = _span(request, tag, size)
    if span is not None:
        return _part(opened, span, size, media, heads)
    name = PurePosixPath(logical).name
    is_plain = media != "application/octet-stream"
    response = FileResponse(
        opened, as_attachment=not is_plain, filename=name, content_type=media, headers=heads
    )
    response.headers["Content-Length"] = str(size)
    return response


def _span(request: HttpRequest, tag: str, size: int) -> tuple[int, int] | None:
    """Give the first and the last byte asked for; None for the whole, also where it is unclear."""
    asked = _RANGE.fullmatch(request.headers.get("Range", "").strip())
    if asked is None or request.headers.get("If-Range", tag) != tag:
        return None
    first, last = asked.groups()
    if not first:
        return (max(0, size - int(last)), size - 1) if last else None
    return int(first), min(int(last), size - 1) if last else size - 1


def _part(
    opened: IO[bytes], span: tuple[int, int], size: int, media: str, heads: dict[str, str]
) -> HttpResponseBase:
    first, last = span
    if first >= size or last < first:
        opened.close()
        return HttpResponse(status=416, headers={"Content-Range": f"bytes */{size}"})

    def blocks() -> Iterator[bytes]:
        with opened:
            opened.seek(first, io.SEEK_SET)
            left = last - first + 1
            while left and (block := opened.read(min(BLOCK, left))):
                left -= len(block)
                yield block

    response = StreamingHttpResponse(blocks(), status=206, content_type=media, headers=heads)
    response.headers["Content-Range"] = f"bytes {first}-{last}/{size}"
    response.headers["Content-Length"] = str(last - first + 1)
    return response


def _streamed(blocks: Iterator[bytes], media: str, name: str) -> StreamingHttpResponse:
    heads = {"Content-Disposition": f'attachment; filename="{name}"'}
    return StreamingHttpResponse(blocks, content_type=media, headers=heads)
