"""Refusals: what was refused, why, and what to do next, with the HTTP status that each one carries.

Refusal                    the root; never raised itself
├── NotPermitted   403     you may see it, but not do this
├── Unseen         404     not there, or not for your eyes
├── WrongMethod    405     the address is there, and is not asked in this way
├── Conflict       409     it cannot be done now: the state is another, or someone was first
├── Gone           410     withdrawn or erased; a tombstone remains
├── TooLarge       413     over a limit of size
├── Unsound        422     what you gave does not hold together
├── Closed         503     the site is being restored, and is served to nobody
└── StoreFailed    507     the store could not take it; nothing was lost

A refusal is shown as it stands, so its three sentences are written for the person who reads them,
and are said in their language: plain ones are gathered for translation as they stand, and those
into which something is put are marked where they are written.
"""

from collections.abc import Callable
from typing import ClassVar

in_words: Callable[[str], str] = str
"""Says a sentence in the language of whoever is asking; the site puts its translations here."""


class Refusal(Exception):
    """A deed that was refused, in three sentences.

    Parameters
    ----------
    what, why, next : str
        What was refused, the reason, and the next step that is open.
    fields : dict of str to str, optional
        Field name to complaint, where the fault lies in something typed.
    """

    code: ClassVar[str] = "refused"
    status: ClassVar[int] = 400

    def __init__(
        self, what: str, why: str, next: str, *, fields: dict[str, str] | None = None
    ) -> None:
        self.what, self.why, self.next = (in_words(one) for one in (what, why, next))
        self.fields = {name: in_words(said) for name, said in (fields or {}).items()}
        super().__init__(f"{self.what} {self.why} {self.next}")

    def as_dict(self) -> dict[str, object]:
        """Give the one error shape of the API: code, what, why, next, and fields if any."""
        shape: dict[str, object] = {
            "code": self.code,
            "what": self.what,
            "why": self.why,
            "next": self.next,
        }
        if self.fields:
            shape["fields"] = self.fields
        return shape


class NotPermitted(Refusal):
    """The person may see the object but may not do this deed."""

    code = "not_permitted"
    status = 403


class Unseen(Refusal):
    """There is no such thing, or it is not for this person's eyes."""

    code = "not_found"
    status = 404


class WrongMethod(Refusal):
    """The address is there, and is not asked in this way."""

    code = "method_not_allowed"
    status = 405


class Conflict(Refusal):
    """The object is in another state now, or someone else was first."""

    code = "conflict"
    status = 409


class Gone(Refusal):
    """The thing was withdrawn or erased; its tombstone remains."""

    code = "gone"
    status = 410


class TooLarge(Refusal):
    """Over a limit of size."""

    code = "too_large"
    status = 413


class Unsound(Refusal):
    """What was given does not hold together."""

    code = "unsound"
    status = 422


class Closed(Refusal):
    """The site is being restored, and is served to nobody."""

    code = "closed"
    status = 503


class StoreFailed(Refusal):
    """The store could not take the bytes; nothing was lost."""

    code = "store_failed"
    status = 507
