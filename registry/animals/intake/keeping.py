"""Keep a file while its person looks at what would become of it; the sweep takes it an hour on."""

import hashlib
import os
import re
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from registry.animals.intake.limits import MOST_BYTES
from registry.animals.intake.reading import Sheet, read
from registry.animals.intake.workbook import as_text, is_workbook
from registry.errors import TooLarge, Unsound

_DIGEST = re.compile(r"[0-9a-f]{64}")
MOST_NAME = 200
_BOOK = ".book"
"""The suffix of plain text that was made of a workbook."""


@dataclass(frozen=True)
class Kept:
    """A file that lies beside the uploads, by the digest of what is in it."""

    path: Path
    sha256: str
    file_name: str

    def read(self) -> Sheet:
        """Read it.

        Raises
        ------
        Unsound
            Where it cannot be read at all.
        """
        is_book = self.path.suffix == _BOOK
        return read(self.path, file_name=self.file_name, sha256=self.sha256, is_book=is_book)


def _path(sha256: str, person: Any) -> Path:
    return Path(settings.UPLOADS) / f"animals-{person.pk}-{sha256}.sheet"


def keep(upload: Any, person: Any) -> Kept:
    """Keep what someone sent, for that person alone; it is streamed, and hashed on the way.

    Of a workbook its plain text is kept, under the digest of the workbook.

    Raises
    ------
    TooLarge
        Where it is over the limit.
    Refusal
        Where it is a workbook that cannot be opened safely, or not be read.
    """
    if upload.size > MOST_BYTES:
        raise TooLarge(
            "The file was not read.",
            _("It is %(size)s bytes; %(most_bytes)s are read at most.")
            % {"size": f"{upload.size:,}", "most_bytes": f"{MOST_BYTES:,}"},
            "Send it in several parts.",
        )
    folder = Path(settings.UPLOADS)
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    coming = folder / f"animals-{person.pk}-{secrets.token_hex(8)}.coming"
    digest = hashlib.sha256()
    with coming.open("wb") as written:
        for chunk in upload.chunks():
            digest.update(chunk)
            written.write(chunk)
    path = _path(digest.hexdigest(), person)
    if is_workbook(coming):
        path = path.with_suffix(_BOOK)
        book, coming = coming, coming.with_suffix(".text")
        try:
            as_text(book, coming)
        finally:
            book.unlink()
    coming.replace(path)
    return Kept(path, digest.hexdigest(), Path(upload.name or "animals.csv").name[:MOST_NAME])


def kept(sha256: str, person: Any, file_name: str) -> Kept:
    """Give a file that this person sent before, for another while.

    Raises
    ------
    Unsound
        Where it is no longer there.
    """
    path = _path(sha256, person)
    if not path.is_file():
        path = path.with_suffix(_BOOK)
    if not _DIGEST.fullmatch(sha256) or not path.is_file():
        raise Unsound(
            "Nothing was brought in.",
            "The file is no longer here: it is kept for an hour.",
            "Choose it again.",
            fields={"kept": "It is no longer here.", "file": "Choose it again."},
        )
    os.utime(path)
    return Kept(path, sha256, Path(file_name or "animals.csv").name[:MOST_NAME])
