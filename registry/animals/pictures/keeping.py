"""Keep photographs in a folder of the site, each under the digest of its bytes, written once."""

import hashlib
import os
import secrets
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.translation import gettext as _

from registry.animals.pictures.limits import MOST_BYTES, PictureRoom
from registry.errors import Gone, Refusal, TooLarge
from registry.guarded.asking import ask

MODULE = "registry.animals.pictures.redrawing"


@dataclass(frozen=True)
class Picture:
    """A photograph that is kept: its digests in two sizes, and the larger one's pixels."""

    sha256: str
    small_sha256: str
    width: int
    height: int
    bytes: int


def folder() -> Path:
    """Give the folder of the photographs."""
    return Path(settings.PICTURES)


def path_of(sha256: str) -> Path:
    """Give where the bytes of a digest lie."""
    return folder() / sha256[:2] / f"{sha256}.jpg"


def keep(upload: Any) -> Picture:
    """Draw what someone sent anew, in a child, and keep it; before any row speaks of it.

    Raises
    ------
    TooLarge
        When it is over a limit.
    Unsound
        When it is no picture.
    """
    if upload.size > MOST_BYTES:
        raise _in_field(
            TooLarge(
                "The photograph was not kept.",
                _("It is %(size)s bytes; %(most_bytes)s are read at most.")
                % {"size": f"{upload.size:,}", "most_bytes": f"{MOST_BYTES:,}"},
                "Save it smaller and send it again.",
            )
        )
    with _beside() as (sent, large, small):
        with sent.open("wb") as written:
            for chunk in upload.chunks():
                written.write(chunk)
        options = {"path": str(sent), "large": str(large), "small": str(small)}
        try:
            told = ask(MODULE, options, PictureRoom(), next="Save it smaller and send it again.")
        except Refusal as refused:
            raise _in_field(refused) from None
        size = large.stat().st_size
        return Picture(
            _settle(large), _settle(small), int(told["width"]), int(told["height"]), size
        )


def _in_field(refused: Refusal) -> Refusal:
    """Give a refusal anew, with its complaint under the field of the file."""
    fields = {"file": f"{refused.why} {refused.next}"}
    return type(refused)(refused.what, refused.why, refused.next, fields=fields)


@contextmanager
def _beside() -> Iterator[tuple[Path, Path, Path]]:
    """Give three places on the same disk for what is sent and drawn; what is left there goes."""
    place = Path(settings.UPLOADS).resolve()
    place.mkdir(parents=True, exist_ok=True, mode=0o700)
    stem = secrets.token_hex(12)
    coming = tuple(place / f"picture-{stem}.{end}" for end in ("sent", "large", "small"))
    try:
        yield coming[0], coming[1], coming[2]
    finally:
        for path in coming:
            with suppress(FileNotFoundError):
                path.unlink()


def _settle(drawn: Path) -> str:
    """Move a drawn picture to its place, and give its digest; the same picture is kept once."""
    content = drawn.read_bytes()
    sha256 = hashlib.sha256(content).hexdigest()
    place = path_of(sha256)
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with drawn.open("rb") as stream:
        os.fsync(stream.fileno())
    drawn.chmod(0o444)
    drawn.replace(place)
    return sha256


def read(sha256: str) -> bytes:
    """Give the bytes of a photograph, as they were kept.

    Raises
    ------
    Gone
        When they are no longer there, or are no longer those that were kept.
    """
    try:
        content = path_of(sha256).read_bytes()
    except FileNotFoundError:
        content = b""
    if hashlib.sha256(content).hexdigest() != sha256:
        raise Gone(
            "The photograph cannot be shown.",
            "Its file is missing, or is not the one that was kept.",
            "Tell the administrator: a backup holds it.",
        )
    return content


def orphans(spoken_of: Collection[str], *, older_than_s: float) -> list[Path]:
    """Give the files of which no row speaks: a deed was refused after its picture was kept.

    Younger ones are left alone: their deed may not be done yet.
    """
    if not folder().is_dir():
        return []
    then = time.time() - older_than_s
    found = (path for path in sorted(folder().glob("*/*.jpg")) if path.stem not in spoken_of)
    return [path for path in found if path.stat().st_mtime <= then]
