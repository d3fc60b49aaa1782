"""The morning's mail to one person: what Today says, in plain text, and a way to switch it off."""

import textwrap
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from email.policy import Policy, default
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.signing import BadSignature, Signer
from django.urls import reverse
from django.utils.translation import gettext as _

from registry.desk.changes import Change, changes_since
from registry.desk.models import MailChoice
from registry.desk.needs import Need, needs_of
from registry.errors import Unseen
from registry.people.models import Person
from registry.saying import day_said
from registry.tags import count, day, near, when

SOON_DAYS = 2
_WIDE = 76
_SIGNER = Signer(salt="registry.desk.letters")


class Letter(EmailMessage):
    """A letter whose links in its heads stay whole: a fold would encode them past reading.

    Lines may be 998 characters long (RFC 5322, section 2.1.1; from memory).
    """

    def message(self, *, policy: Policy | None = None) -> Any:
        """Give the message, its heads unfolded."""
        return super().message(policy=(policy or default).clone(max_line_length=990))


@dataclass(frozen=True)
class Digest:
    """What one person is told in the morning; confidential needs are counted, never told."""

    person: Person
    on: date
    needs: list[Need]
    untold: int
    changes: list[Change]

    @property
    def late(self) -> int:
        """How many of the needs are late."""
        return sum(need.is_late(self.on) for need in self.needs)

    @property
    def number(self) -> int:
        """How many things need the person, untold ones too."""
        return len(self.needs) + self.untold

    @property
    def subject(self) -> str:
        """The subject: numbers alone, never what it is about."""
        if not self.number:
            changes = count(self.changes, _("change,changes"))
            return _("Nothing needs you; %(changes)s") % {"changes": changes}
        things = count(self.number, _("thing needs,things need"))
        if self.late:
            return _("%(things)s you, %(late)s late") % {"things": things, "late": self.late}
        return _("%(things)s you") % {"things": things}

    @property
    def body(self) -> str:
        """The letter in plain text."""
        parts = [day_said(self.on, "long"), f"{self.subject}."]
        parts += [told(need, self.on) for need in self.needs]
        if self.untold:
            things = count(self.untold, _("thing is,things are"))
            said = _("%(things)s not told by mail; open Today:") % {"things": things}
            parts.append(f"{said}\n{_link(reverse('today'))}")
        if self.changes:
            parts.append(_("Changed since the last look:"))
            parts += [
                _wrapped(f"{day(one.on, 'short')}, {one.by}. {one.text}", _link(one.url))
                for one in self.changes
            ]
        return _plain([*parts, _foot(self.person)])

    def is_wanted(self, how: str) -> bool:
        """Say whether it is to be sent to whoever chose so."""
        if how == MailChoice.How.NEVER:
            return False
        if how == MailChoice.How.DUE:
            last = self.on + timedelta(days=SOON_DAYS)
            return any(
                need.is_told_by_letter or (need.due is not None and need.due <= last)
                for need in self.needs
            )
        return bool(self.number or self.changes)

    @property
    def message(self) -> EmailMessage:
        """The letter, with the heads by which a mail program switches it off at one press."""
        return _letter(self.person, self.subject, self.body)


def digest_of(person: Person, on: date, since: datetime) -> Digest:
    """Give what a person is told on a day: by the very functions of Today."""
    needs = needs_of(person, on)
    told = [need for need in needs if not need.is_confidential]
    return Digest(person, on, told, len(needs) - len(told), changes_since(since, person))


def letter_to(person: Person, subject: str, parts: list[str]) -> Letter:
    """Give a letter of some paragraphs, with the ways to choose and to switch off at its foot."""
    return _letter(person, subject, _plain([*parts, _foot(person)]))


def _letter(person: Person, subject: str, body: str) -> Letter:
    """Give a letter, with the heads by which a mail program switches it off at one press."""
    return Letter(
        subject=subject,
        body=body,
        to=[person.email],
        headers={
            "List-Unsubscribe": f"<{off_link(person)}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
            "Auto-Submitted": "auto-generated",
        },
    )


def _plain(parts: list[str]) -> str:
    return "\n\n".join(parts).replace("\u00a0", " ").replace("\u00ad", "") + "\n"


def _foot(person: Person) -> str:
    return _(
        "Today: %(today)s\n"
        "Choose when you are written to: %(choose)s\n"
        "Switch these letters off: %(off)s"
    ) % {
        "today": _link(reverse("today")),
        "choose": _link(reverse("morning")),
        "off": off_link(person),
    }


def told(need: Need, on: date) -> str:
    """Write one need as a paragraph."""
    if need.due:
        moment = f"{when(need.due)} ({near(need.due)})"
        if need.is_late(on):
            moment = _("LATE, due %(day)s") % {"day": day(need.due)}
    else:
        moment = f"{need.when} {need.soon}".strip()
    return _wrapped(f"{moment}: {need.what}", need.why, f"{need.step}: {_link(need.url)}")


def _link(path: str) -> str:
    return path if "://" in path else f"{settings.SITE_ADDRESS.rstrip('/')}{path}"


def _wrapped(*sentences: str) -> str:
    """Fold sentences; what a person typed keeps no line of its own, and a link is never broken."""
    lines = []
    for at, said in enumerate(sentences):
        plain = " ".join(said.split())
        lines += textwrap.wrap(
            plain,
            _WIDE,
            initial_indent="  " if at else "",
            subsequent_indent="  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    return "\n".join(lines)


# ------------------------------------------------------------------------------- switching off


def off_link(person: Person) -> str:
    """Give the signed address that switches a person's letters off, without signing in."""
    return _link(reverse("mail_off", args=[_SIGNER.sign(str(person.pk))]))


def person_of_link(signed: str) -> Person:
    """Give whose letters a signed address switches off.

    Raises
    ------
    Unseen
        When it was not signed here.
    """
    try:
        pk = int(_SIGNER.unsign(signed))
        found: Person = Person.objects.real().get(pk=pk)
    except (BadSignature, ValueError, Person.DoesNotExist):
        raise Unseen(
            "Nothing was switched off.",
            "This link was not made here, or it lost a part on its way.",
            "Copy the whole link from the letter, or sign in and choose there.",
        ) from None
    return found


def choose(person: Any, how: str) -> None:
    """Keep when a person is written to; a preference, no deed."""
    MailChoice.objects.update_or_create(person=person, defaults={"how": how})


def chosen_by(person: Any) -> str:
    """Give when a person is written to."""
    found = MailChoice.objects.filter(person=person).values_list("how", flat=True).first()
    return found or MailChoice.How.DAILY
