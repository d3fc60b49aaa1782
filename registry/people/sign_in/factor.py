"""The second factor of a person: an app's codes, recovery codes, passkeys; what holds, once."""

from dataclasses import dataclass
from datetime import datetime

from allauth.core.internal.cryptokit import compare_user_code
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    TOTP,
    format_hotp_value,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from allauth.mfa.utils import decrypt
from allauth.mfa.webauthn.internal.auth import WebAuthn
from django.db import transaction

from registry.people.models import Person

Kind = Authenticator.Type


@dataclass(frozen=True)
class Passkey:
    """A passkey as its person sees it."""

    pk: int
    name: str
    made_at: datetime
    used_at: datetime | None


@dataclass(frozen=True)
class Held:
    """What a person has for the second step."""

    codes_left: int
    used_at: datetime | None
    passkeys: tuple[Passkey, ...]


def new_secret() -> str:
    """Give a fresh secret for an app: 160 bits in base 32, as RFC 4226, section 4, recommends."""
    return str(generate_totp_secret())


def step_of(secret: str, code: str, *, after: int = -1) -> int | None:
    """Give the half minute whose code this is, now or one off, and later than `after`; else None.

    RFC 6238, section 5.2: a code that was taken is not taken again.
    """
    for step in yield_hotp_counters_from_time():
        wanted = format_hotp_value(hotp_value(secret, step))
        if step > after and compare_user_code(actual=code, expected=wanted):
            return int(step)
    return None


def _rows(person: Person) -> dict[str, Authenticator]:
    rows = Authenticator.objects.select_for_update().filter(
        user=person, type__in=(Kind.TOTP, Kind.RECOVERY_CODES)
    )
    return {row.type: row for row in rows}


@transaction.atomic
def takes(person: Person, code: str) -> bool:
    """Say whether a code of the app, or a recovery code, holds; what held once holds no more."""
    rows = _rows(person)
    app, recovery = rows.get(Kind.TOTP), rows.get(Kind.RECOVERY_CODES)
    if app is not None:
        step = step_of(decrypt(app.data["secret"]), code, after=app.data.get("step", -1))
        if step is not None:
            app.data["step"] = step
            app.save(update_fields=["data"])
            app.record_usage()
            return True
    if recovery is not None and RecoveryCodes(recovery).validate_code(code):
        recovery.record_usage()
        return True
    return False


def lay_down(person: Person, secret: str, step: int) -> list[str]:
    """Write the app's secret and fresh recovery codes, and give those codes."""
    app = TOTP.activate(person, secret).instance
    app.data["step"] = step
    app.save(update_fields=["data"])
    return renew_codes(person)


def renew_codes(person: Person) -> list[str]:
    """Write fresh recovery codes in place of the old ones, and give them."""
    Authenticator.objects.filter(user=person, type=Kind.RECOVERY_CODES).delete()
    return list(RecoveryCodes.activate(person).generate_codes())


def take_away(person: Person) -> None:
    """Destroy every secret of the second factor: secrets are no record, and are not kept."""
    Authenticator.objects.filter(user=person).delete()


def lay_passkey(person: Person, name: str, credential: dict[str, object]) -> None:
    """Write a passkey: its public half, which is no secret."""
    WebAuthn.add(person, name, credential)


def passkeys_of(person: Person) -> list[Authenticator]:
    """Give the rows of one's passkeys, the oldest first."""
    return list(Authenticator.objects.filter(user=person, type=Kind.WEBAUTHN).order_by("pk"))


def held_by(person: Person) -> Held:
    """Give what a person has for the second step."""
    rows = list(Authenticator.objects.filter(user=person).order_by("pk"))
    by_kind = {row.type: row for row in rows}
    recovery, app = by_kind.get(Kind.RECOVERY_CODES), by_kind.get(Kind.TOTP)
    return Held(
        codes_left=len(RecoveryCodes(recovery).get_unused_codes()) if recovery else 0,
        used_at=app.last_used_at if app else None,
        passkeys=tuple(
            Passkey(row.pk, row.data["name"], row.created_at, row.last_used_at)
            for row in rows
            if row.type == Kind.WEBAUTHN
        ),
    )
