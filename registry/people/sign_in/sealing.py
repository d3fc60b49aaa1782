"""Secrets of second factors as they lie in the database: sealed with a key of the site's own."""

import base64
from functools import cache

from allauth.mfa.adapter import DefaultMFAAdapter
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from registry.errors import Conflict
from registry.people.models import Person

_PURPOSE = b"strandline: secrets of second factors"


@cache
def _fernet(secret: str) -> Fernet:
    """Give the lock of one secret key: HKDF with SHA-256 (RFC 5869), named by its purpose."""
    made = HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=_PURPOSE)
    return Fernet(base64.urlsafe_b64encode(made.derive(secret.encode())))


def _lock() -> MultiFernet:
    return MultiFernet(
        [_fernet(one) for one in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)]
    )


class Sealing(DefaultMFAAdapter):  # type: ignore[misc]  # why: it has no types there
    """How the second factor stands to this site: its secrets are sealed, its names are ours."""

    def encrypt(self, text: str) -> str:
        """Seal a secret."""
        return _lock().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        """Open a sealed secret.

        Raises
        ------
        Conflict
            When it was sealed under another secret key of the site.
        """
        try:
            return _lock().decrypt(encrypted_text.encode()).decode()
        except InvalidToken:
            raise Conflict(
                "The second factor could not be asked.",
                "The site’s secret key is another than when it was set up.",
                "Ask an administrator to reset your second factor; nobody else is let in by it.",
            ) from None

    def get_totp_issuer(self) -> str:
        """Give the name under which an app on a phone lists the site."""
        return f"Strandline, {settings.SITE_NAME}"

    def get_totp_label(self, user: Person) -> str:
        """Give the name under which it lists the person."""
        return user.email

    def get_public_key_credential_user_entity(self, user: Person) -> dict[str, str | bytes]:
        """Give what a passkey keeps of the person."""
        return {"id": str(user.pk).encode(), "display_name": user.name, "name": user.email}
