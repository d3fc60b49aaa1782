"""Where uploads lie while they are sent: a folder of the site's own, so that it can be swept."""

import tempfile
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import TemporaryUploadedFile, UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, TemporaryFileUploadHandler

DEAD_S = 3600.0
"""A file that nobody wrote to for so long belongs to a web server that was killed."""


class SpooledUpload(TemporaryUploadedFile):
    """A file on its way in; its bytes go when it is closed."""

    def __init__(
        self,
        name: str | None,
        content_type: str | None,
        size: int,
        charset: str | None,
        extra: dict[str, Any] | None = None,
    ) -> None:
        folder = Path(settings.UPLOADS)
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        spool = tempfile.NamedTemporaryFile(suffix=".upload", dir=folder)  # noqa: SIM115  # why: the upload closes it
        # Past its parent, which would make the file in a folder that must be there at the start.
        UploadedFile.__init__(self, spool, name, content_type, size, charset, extra)


class UploadHandler(TemporaryFileUploadHandler):
    """Streams each file to the site's own folder."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Begin a file."""
        FileUploadHandler.new_file(self, *args, **kwargs)
        self.file = SpooledUpload(
            self.file_name, self.content_type, 0, self.charset, self.content_type_extra
        )

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        """Take some bytes; a disk that will not take them is left no part of the file."""
        try:
            return self.write(raw_data, start)
        except OSError:
            with suppress(OSError):  # what is not yet written will not go either
                self.file.close()
            raise

    def write(self, raw_data: bytes, start: int) -> bytes | None:
        """Write some bytes."""
        return super().receive_data_chunk(raw_data, start)


def sweep_uploads(*, older_than_s: float = DEAD_S) -> int:
    """Remove what killed web servers have left, and say how many files that was."""
    folder = Path(settings.UPLOADS)
    if not folder.is_dir():
        return 0
    swept = 0
    for left in sorted(folder.iterdir()):
        with suppress(FileNotFoundError):
            if time.time() - left.stat().st_mtime >= older_than_s:
                left.unlink()
                swept += 1
    return swept
