"""A clock that stands in the past while a deed of the demo is done."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, tzinfo
from typing import Self

from django.utils import timezone


@contextmanager
def standing_at(moment: datetime) -> Iterator[None]:
    """Let Django's clock stand at a moment for as long as the block lasts.

    A deed writes into the ledger when it was recorded, and takes that from the clock; it has no
    argument for it, for nobody may choose when a deed was recorded. The demo tells of two years, so
    it turns back the clock itself. Models keep the function `timezone.now` as their default, hence
    the class from which that function reads is exchanged and not the function. Nothing but the
    command that makes the demo, on an empty register, may do this.
    """

    class Standing(datetime):
        """A datetime whose now is the moment told."""

        @classmethod
        def now(cls, tz: tzinfo | None = None) -> Self:
            """Give the moment, in the time zone asked for."""
            there = moment.astimezone(tz)
            return cls.combine(there.date(), there.timetz())

    kept = timezone.datetime  # type: ignore[attr-defined]  # why: the module's own import of it
    timezone.datetime = Standing  # type: ignore[attr-defined]  # why: see the docstring
    try:
        yield
    finally:
        timezone.datetime = kept  # type: ignore[attr-defined]  # why: see the docstring
