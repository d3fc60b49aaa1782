"""A table of a version as a workbook: text that begins like a formula is made safe in it."""

import tempfile
from pathlib import Path, PurePosixPath

from django.http import FileResponse, HttpRequest
from django.http.response import HttpResponseBase
from django.utils.translation import gettext as _

from archive.columnar import tables_in
from archive.extending.room import PoolRoom
from archive.models import Taken, Version
from archive.pool_pages import MEDIA
from archive.pooling import MODULE, Source, for_child
from archive.serving import machine
from archive.taking import counted
from archive.ways import Way
from registry.errors import Unseen
from registry.guarded.asking import ask

_NEXT = "Take the table for spreadsheets: it is a CSV, and has no such limit."


@machine
@counted(Taken.Form.TABLE)
def workbook(request: HttpRequest, version: Version, name: str) -> HttpResponseBase:
    """Serve a table as a workbook, made out of the typed copy of its columns in a child."""
    named = (one for one in tables_in(version) if PurePosixPath(one["path"]).stem == name)
    resource = next(named, None)
    if resource is None:
        why = _("The version has no table “%(name)s”.") % {"name": name}
        raise Unseen("There is no such workbook.", why, "Choose one on its page.")
    copy = for_child(Source(version, resource, Way()))["path"]
    media, ending = MEDIA["xlsx"]
    with tempfile.TemporaryDirectory(prefix="book-") as room:
        target = Path(room) / f"{name}.{ending}"
        asked = {"book": {"copy": copy, "target": str(target), "title": name}}
        ask(MODULE, asked, PoolRoom(), next=_NEXT)
        opened = target.open("rb")  # it outlives its name, and goes when it was sent
    return FileResponse(opened, as_attachment=True, filename=target.name, content_type=media)
