"""One letter on its way: what is claimed, what the mail server said, and what is queued.

A row is claimed before anything is sent, and a claimed row is never taken again: after a kill a
letter may be missing, never doubled. What the mail server itself refused went nowhere, so it is
tried again; what broke off half-way may have gone out, so it is not.
"""

import logging
from datetime import timedelta
from smtplib import SMTPException, SMTPServerDisconnected
from typing import Any

from django.core.mail import EmailMessage, mailers
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from registry.desk.models import Posted

logger = logging.getLogger(__name__)

TRIES = 3
WAIT = timedelta(minutes=10)
"""How long after a refusal it is tried again, and after how long a task counts as dead."""
OPEN = (Posted.Outcome.WAITING, Posted.Outcome.REFUSED)


def is_early() -> Q:
    """Say which rows were refused so lately that they are given a rest."""
    return Q(outcome=Posted.Outcome.REFUSED, told_at__gt=timezone.now() - WAIT)


def claim(rows: QuerySet[Any]) -> bool:
    """Claim one row that is open; say whether it was not claimed before."""
    return bool(
        rows.filter(outcome__in=OPEN).update(
            outcome=Posted.Outcome.CLAIMED, tries=F("tries") + 1, told_at=timezone.now(), fault=""
        )
    )


def settle(row: Posted, outcome: str, fault: str) -> str:
    """Write what became of a claimed row, and give it: refused often enough it is given up."""
    if outcome == Posted.Outcome.REFUSED and row.tries >= TRIES:
        outcome = Posted.Outcome.GIVEN_UP
    if fault:
        logger.warning("The letter of %s %s was %s: %s", row.kind, row.pk, outcome, fault)
    type(row)._default_manager.filter(pk=row.pk).update(
        outcome=outcome, fault=fault[:300], told_at=timezone.now()
    )
    return str(outcome)


def post(letter: EmailMessage) -> tuple[str, str]:
    """Send a letter; give the outcome and what the server said."""
    mailer = mailers.default
    try:
        mailer.open()
    except (OSError, SMTPException) as fault:
        return Posted.Outcome.REFUSED, f"{type(fault).__name__}: {fault}"
    try:
        mailer.send_messages([letter])
    except SMTPServerDisconnected as fault:
        return Posted.Outcome.UNKNOWN, f"{type(fault).__name__}: {fault}"
    except SMTPException as fault:
        return Posted.Outcome.REFUSED, f"{type(fault).__name__}: {fault}"
    except OSError as fault:
        return Posted.Outcome.UNKNOWN, f"{type(fault).__name__}: {fault}"
    finally:
        _close(mailer)
    return Posted.Outcome.SENT, ""


def _close(mailer: object) -> None:
    """Hang up; a letter that was taken stays taken, whatever happens after."""
    try:
        mailer.close()  # type: ignore[attr-defined]  # why: every mail backend has it
    except (OSError, SMTPException) as fault:
        logger.info("The mail server did not say goodbye: %s", fault)
