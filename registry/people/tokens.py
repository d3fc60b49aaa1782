"""Sign-in of programs by token: made once, shown once, kept as a digest."""

import hashlib
import logging
import secrets
from datetime import timedelta

from django.utils import timezone
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from registry.people.models import ApiToken, Person
from registry.people.sign_in.brake import network_of

logger = logging.getLogger("strandline.security")


def digest_of(token: str) -> str:
    """Give the digest under which a token is kept."""
    return hashlib.sha256(token.encode()).hexdigest()


def new_token() -> str:
    """Give a fresh secret, 43 characters."""
    return secrets.token_urlsafe(32)


def _is_live(token: ApiToken) -> bool:
    is_over = token.revoked_at is not None or token.expires_at <= timezone.now()
    return not is_over and token.person.is_active


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
        digest = digest_of(parts[1].decode("latin-1"))
        token = ApiToken.objects.select_related("person").filter(digest=digest).first()
        if token is None or not _is_live(token):
            whose = f"token {token.pk} of person {token.person_id}" if token else "unknown"
            logger.warning("Token refused: %s, from %s", whose, network_of(request))
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
            "description": "“Token ”, then the token. A token has a scope, chosen when it is made, "
            "within what its person may do: `read` looks and does nothing; `deposit` opens a "
            "deposit, adds files, submits it and looks at deposits, and nothing else; `deeds` does "
            "everything that its person may. Beyond its scope the answer is 403, and `can` holds "
            "only what is within it.",
        }
