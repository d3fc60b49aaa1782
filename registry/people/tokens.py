"""Sign-in of programs by token: made once, shown once, kept as a digest."""

import hashlib
import secrets
from datetime import timedelta

from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from registry.people.models import ApiToken, Person


def digest_of(token: str) -> str:
    """Give the digest under which a token is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def new_token() -> str:
    """Give a fresh secret, 43 characters."""
    return secrets.token_urlsafe(32)


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Token …`."""

    def authenticate(self, request: Request) -> tuple[Person, ApiToken] | None:
        """Give the person whose live token this is; None where no token was sent."""
        parts = get_authorization_header(request).split()
        if not parts or parts[0].lower() != b"token":
            return None
        if len(parts) != 2:
            raise AuthenticationFailed("Send the token as “Authorization: Token …”.")
        now = timezone.now()
        token = (
            ApiToken.objects.select_related("person")
            .filter(
                digest=digest_of(parts[1].decode("latin-1")),
                revoked_at=None,
                expires_at__gt=now,
                person__is_active=True,
            )
            .first()
        )
        if token is None:
            raise AuthenticationFailed("This token is unknown, expired or revoked; make a new one.")
        if token.used_at is None or now - token.used_at > timedelta(minutes=1):
            ApiToken.objects.filter(pk=token.pk).update(used_at=now)
        return token.person, token

    def authenticate_header(self, request: Request) -> str:
        """Say how to sign in."""
        return "Token"


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # why: it has no types there
    """How the API's schema tells of signing in by token."""

    target_class = TokenAuthentication
    name = "token"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        """Say which header holds it, and how."""
        return {
            "type": "apiKey",
            "in": "header",
            "name": "Authorization",
            "description": "“Token ”, then the token.",
        }
