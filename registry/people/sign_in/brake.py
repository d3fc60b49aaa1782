"""The brake on guessing: so many wrong tries for one e-mail, person or network, then a rest.

The counts lie in the memory of the web server, which is one process (`serve`); whoever runs several
gives them a cache in common by Django's CACHES.
"""

import hashlib
import ipaddress
import logging
from dataclasses import dataclass

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

logger = logging.getLogger("strandline.security")

_NETWORK_BITS = 64  # one household or host has a whole /64 of IPv6 to itself (RFC 6177)


@dataclass(frozen=True)
class Brake:
    """So many wrong tries of a kind within so many seconds."""

    kind: str
    tries: int
    wait_s: int

    def _key(self, whom: str) -> str:
        return f"brake-{self.kind}-{hashlib.sha256(whom.encode()).hexdigest()}"

    def holds(self, whom: str) -> bool:
        """Say whether there were too many."""
        return int(cache.get(self._key(whom), 0)) >= self.tries

    def count(self, whom: str) -> None:
        """Count a wrong try."""
        key = self._key(whom)
        cache.add(key, 0, self.wait_s)
        try:
            cache.incr(key)
        except ValueError:  # it ran out between the two
            cache.add(key, 1, self.wait_s)

    def release(self, whom: str) -> None:
        """Forget the wrong tries."""
        cache.delete(self._key(whom))


OF_EMAIL = Brake("email", 10, 300)
OF_NETWORK = Brake("network", 60, 300)  # a whole aquarium may stand behind one address
OF_CODES = Brake("codes", 5, 900)
OF_LETTERS = Brake("letters", 5, 3600)
OF_LETTERS_TO_A_NETWORK = Brake("letters-network", 30, 3600)


def network_of(request: HttpRequest) -> str:
    """Give the address from which a request comes; of IPv6 its network.

    Behind a proxy it is the last one in X-Forwarded-For: what the proxy itself saw. What stands
    before it was sent by whoever asks, and may be made up.
    """
    said = request.META.get("REMOTE_ADDR", "")
    if settings.IS_BEHIND_PROXY:
        said = request.headers.get("X-Forwarded-For", said).rpartition(",")[2].strip()
    try:
        found = ipaddress.ip_address(said)
    except ValueError:
        return "unknown"
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped:
            return str(found.ipv4_mapped)
        return str(ipaddress.ip_network((found, _NETWORK_BITS), strict=False))
    return str(found)


def tell(request: HttpRequest, what: str, person: int | None = None) -> None:
    """Write to the site's log that someone was refused: by number and network alone."""
    whom = f"person {person}" if person else "nobody known"
    logger.warning("%s: %s, from %s", what, whom, network_of(request))
