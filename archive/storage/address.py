"""Where a store lies: a folder, or an address that begins with s3://."""

from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import parse_qsl, unquote, urlsplit

SCHEME = "s3"
_KNOWN = {"endpoint", "region"}


@dataclass(frozen=True)
class BucketAddress:
    """A bucket of an object store.

    Parameters
    ----------
    name : str
        The bucket.
    prefix : str
        How every key begins, without a slash at its end; empty for the bucket itself.
    endpoint : str
        Where the store is asked, https://host; empty for its maker's own.
    region : str
        The region that requests are signed for.
    key_id, secret : str
        Who asks, and by which secret. Never part of an address, never shown.
    """

    name: str
    prefix: str = ""
    endpoint: str = ""
    region: str = ""
    key_id: str = field(default="", repr=False)
    secret: str = field(default="", repr=False)

    @property
    def said(self) -> str:
        """The address in words, without a secret."""
        path = f"{SCHEME}://{self.name}" + (f"/{self.prefix}" if self.prefix else "")
        return f"{path} at {self.endpoint}" if self.endpoint else path


def read_address(said: str, *, key_id: str = "", secret: str = "") -> Path | BucketAddress:
    """Read where a store lies.

    Parameters
    ----------
    said : str
        A folder, or s3://bucket/prefix?endpoint=https://host&region=name.
    key_id, secret : str
        By what an object store lets the program in.

    Raises
    ------
    ValueError
        For an address that is neither, that says who asks, or that says what is not known.

    Examples
    --------
    >>> read_address("s3://archive/site?endpoint=https://objects.example.org").said
    's3://archive/site at https://objects.example.org'
    >>> read_address("/srv/store")
    PosixPath('/srv/store')
    """
    scheme, mark, _ = said.partition("://")
    if not mark:
        return Path(said)
    parts = urlsplit(said)
    if scheme != SCHEME or not parts.hostname:
        raise ValueError(f"“{scheme}://” is no address of a store: name a folder, or s3://bucket")
    if "@" in parts.netloc or ":" in parts.netloc:
        raise ValueError("an address of a store says neither who asks nor a port")
    asked = dict(parse_qsl(parts.query, keep_blank_values=True))
    if odd := sorted(asked.keys() - _KNOWN):
        raise ValueError(f"an address of a store knows endpoint and region, not {', '.join(odd)}")
    return BucketAddress(
        name=parts.netloc,
        prefix=unquote(parts.path).strip("/"),
        endpoint=asked.get("endpoint", ""),
        region=asked.get("region", ""),
        key_id=key_id,
        secret=secret,
    )
