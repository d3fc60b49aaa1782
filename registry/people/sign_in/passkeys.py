"""Passkeys as a second step: what a browser is asked, and whether its answer holds."""

import json
from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.internal import auth
from django.core.exceptions import ValidationError
from django.core.serializers.json import DjangoJSONEncoder

from registry.people.models import Person

_NOT_TAKEN = "This passkey was not taken. Try again, or give a code."


def _read(said: str) -> dict[str, Any]:
    try:
        found = json.loads(said)
    except ValueError:
        found = None
    if not isinstance(found, dict):
        raise ValidationError(_NOT_TAKEN)
    return found


def asked_to_make(person: Person) -> str:
    """Give what the browser is asked when a passkey is made; its challenge lies in the session."""
    return json.dumps(auth.begin_registration(person, False), cls=DjangoJSONEncoder)


def asked_to_show(person: Person) -> str:
    """Give what the browser is asked when a passkey is shown; likewise."""
    return json.dumps(auth.begin_authentication(person), cls=DjangoJSONEncoder)


def made(said: str) -> dict[str, Any]:
    """Give the new passkey, where it answers the challenge.

    Raises
    ------
    ValidationError
        Where it does not.
    """
    credential = _read(said)
    try:
        auth.parse_registration_response(credential)
        auth.complete_registration(credential)
    except (ValidationError, ValueError, TypeError, KeyError):
        raise ValidationError(_NOT_TAKEN) from None
    return credential


def shown(person: Person, said: str) -> Authenticator:
    """Give the passkey that answered the challenge.

    Raises
    ------
    ValidationError
        Where none of this person's did.
    """
    credential = _read(said)
    try:
        auth.parse_authentication_response(credential)
        found = auth.complete_authentication(person, credential)
    except (ValidationError, ValueError, TypeError, KeyError):
        raise ValidationError(_NOT_TAKEN) from None
    assert isinstance(found, Authenticator)
    return found
