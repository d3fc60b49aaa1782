"""A bucket of an object store that speaks S3: a few calls, each failure said in words.

Only what every such store has is used: put (once, or over), get (whole, or from a byte on), head,
list and delete. What is sent is signed with its own sha256, so that a store refuses what was
changed on the way.

References
----------
Amazon Simple Storage Service API Reference, version 2006-03-01: PutObject (If-None-Match),
GetObject, HeadObject, ListObjectsV2, DeleteObject.
"""

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import IO, Any

from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError
from botocore.session import Session

from archive.storage.address import BucketAddress
from archive.storage.disk import BLOCK
from registry.errors import StoreFailed

_WORDS = {
    403: "It does not let this program in: its key or its secret does not hold, or may not do it.",
    404: "There is no such bucket.",
    405: "It takes nothing: it may be read alone.",
    413: "It is full, or takes no file of this size.",
    429: "It is too busy.",
    500: "It reported a fault of its own.",
    502: "It reported a fault of its own.",
    503: "It is too busy, or not ready.",
    507: "It is full.",
}
_FULL = frozenset({"QuotaExceeded", "EntityTooLarge", "InsufficientStorage", "XMinioStorageFull"})
_PATIENCE = Config(
    s3={"addressing_style": "path", "payload_signing_enabled": True},
    request_checksum_calculation="when_required",
    response_checksum_validation="when_required",
    retries={"total_max_attempts": 2, "mode": "standard"},
    connect_timeout=3,
    read_timeout=60,
)


@dataclass(frozen=True)
class Found:
    """One key of a bucket.

    Parameters
    ----------
    key : str
        The key.
    bytes : int
        Its size in bytes.
    modified : datetime
        When it was put there.
    """

    key: str
    bytes: int
    modified: datetime


@lru_cache(maxsize=8)
def _client(endpoint: str, region: str, key_id: str, secret: str) -> Any:
    return Session().create_client(
        "s3",
        endpoint_url=endpoint or None,
        region_name=region or "us-east-1",
        aws_access_key_id=key_id,
        aws_secret_access_key=secret,
        config=_PATIENCE,
    )


@dataclass(frozen=True)
class Bucket:
    """A bucket, by its address.

    Parameters
    ----------
    address : BucketAddress
        Its name, where it is asked for, and by which key.
    """

    address: BucketAddress

    @property
    def client(self) -> Any:
        """What speaks to the store; made once for each address and safe among threads."""
        return _client(
            self.address.endpoint, self.address.region, self.address.key_id, self.address.secret
        )

    @contextmanager
    def asking(self, what: str) -> Iterator[None]:
        """Turn a failure of the object store into a refusal."""
        try:
            yield
        except (ClientError, BotoCoreError) as fault:
            raise StoreFailed(
                what,
                f"The object store ({self.address.said}) was asked. {_why(fault)}",
                "Nothing was lost and nothing half-written is shown. Tell the administrator, then"
                " try again.",
            ) from fault

    def put_once(self, key: str, content: bytes | Path, *, what: str) -> bool:
        """Put a key where there is none yet; say whether it was put.

        Raises
        ------
        StoreFailed
            When the store will not take it.
        """
        with self.asking(what):
            try:
                if isinstance(content, bytes):
                    self._put(key, io.BytesIO(content))
                else:
                    with content.open("rb") as stream:
                        self._put(key, stream)
            except ClientError as fault:
                if _status(fault) != 412:
                    raise
                return False
        return True

    def _put(self, key: str, stream: IO[bytes]) -> None:
        self.client.put_object(Bucket=self.address.name, Key=key, Body=stream, IfNoneMatch="*")

    def get(self, key: str, *, what: str, first: int = 0) -> IO[bytes] | None:
        """Give the bytes of a key from a byte on, as a stream; None where there is no such key.

        Raises
        ------
        StoreFailed
            When the store does not answer.
        """
        span = {"Range": f"bytes={first}-"} if first else {}
        with self.asking(what):
            try:
                answer = self.client.get_object(Bucket=self.address.name, Key=key, **span)
            except ClientError as fault:
                if fault.response.get("Error", {}).get("Code") != "NoSuchKey":
                    raise
                return None
        body: IO[bytes] = answer["Body"]
        return body

    def read(self, key: str, *, what: str) -> bytes | None:
        """Give all the bytes of a small key; None where there is no such key."""
        body = self.get(key, what=what)
        if body is None:
            return None
        with self.asking(what):
            return body.read()

    def copy_to(self, key: str, target: Path, *, what: str) -> None:
        """Write the bytes of a key to a new file.

        Raises
        ------
        StoreFailed
            When there is no such key, or the store breaks off.
        """
        body = self.get(key, what=what)
        if body is None:
            raise StoreFailed(what, f"The object store lost {key}.", "Tell the administrator.")
        with self.asking(what), target.open("xb") as given:
            while block := body.read(BLOCK):
                given.write(block)

    def size(self, key: str, *, what: str) -> int | None:
        """Give the bytes of a key; None where there is no such key."""
        with self.asking(what):
            try:
                answer = self.client.head_object(Bucket=self.address.name, Key=key)
            except ClientError as fault:
                if _status(fault) != 404:
                    raise
                return None
        return int(answer["ContentLength"])

    def listing(self, prefix: str, *, what: str, most: int | None = None) -> Iterator[Found]:
        """Give every key that begins so, in order.

        Parameters
        ----------
        prefix : str
            How the key begins.
        what : str
            What could not be done, where the store does not answer.
        most : int, optional
            Ask for so many at once, and for no more.
        """
        asked: dict[str, Any] = {"Bucket": self.address.name, "Prefix": prefix}
        if most is not None:
            asked["MaxKeys"] = most
        while True:
            with self.asking(what):
                answer = self.client.list_objects_v2(**asked)
            for one in answer.get("Contents", []):
                yield Found(one["Key"], int(one["Size"]), one["LastModified"])
            if most is not None or not answer.get("IsTruncated"):
                return
            asked["ContinuationToken"] = answer["NextContinuationToken"]

    def remove(self, key: str, *, what: str) -> None:
        """Remove a key; one that is not there is no fault."""
        with self.asking(what):
            self.client.delete_object(Bucket=self.address.name, Key=key)


def _status(fault: ClientError) -> int:
    return int(fault.response.get("ResponseMetadata", {}).get("HTTPStatusCode", 0))


def _why(fault: ClientError | BotoCoreError) -> str:
    if not isinstance(fault, ClientError):
        return "It does not answer, or broke off."
    if fault.response.get("Error", {}).get("Code") in _FULL:
        return "It is full, or takes no file of this size."
    return _WORDS.get(_status(fault), f"It answered {_status(fault)}.")


class Opened(io.RawIOBase):
    """A key that is read as a file: what is skipped is never fetched."""

    def __init__(self, bucket: Bucket, key: str, size: int, *, what: str) -> None:
        super().__init__()
        self._bucket, self._key, self._size, self._what = bucket, key, size, what
        self._at = 0
        self._body: IO[bytes] | None = None

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def seekable(self) -> bool:
        """Say that one can go to any byte of it."""
        return True

    def tell(self) -> int:
        """Give the byte at which it stands."""
        return self._at

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        """Go to a byte; nothing is asked of the store until it is read."""
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._size}[whence]
        if start + offset != self._at:
            self._drop()
        self._at = max(0, start + offset)
        return self._at

    def readinto(self, buffer: Any) -> int:
        """Read some bytes into a buffer, and say how many; 0 at the end.

        Raises
        ------
        StoreFailed
            When the store broke off before the end.
        """
        wanted = min(len(buffer), self._size - self._at)
        if wanted <= 0:
            return 0
        if self._body is None:
            self._body = self._bucket.get(self._key, what=self._what, first=self._at)
        block = b""
        if self._body is not None:
            with self._bucket.asking(self._what):
                block = self._body.read(wanted)
        if not block:
            raise StoreFailed(self._what, "The object store broke off.", "Try again in a moment.")
        buffer[: len(block)] = block
        self._at += len(block)
        return len(block)

    def _drop(self) -> None:
        if self._body is not None:
            self._body.close()
            self._body = None

    def close(self) -> None:
        """Let the connection go."""
        self._drop()
        super().close()
