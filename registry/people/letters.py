"""Letters to people about signing in: the link that sets a password."""

from typing import Any

from django.conf import settings
from django.contrib.auth.forms import PasswordResetForm
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import send_mail
from django.core.mail.exceptions import InvalidMailer
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _

from registry.errors import StoreFailed
from registry.people.models import Person


def password_link(person: Person) -> str:
    """Give the address at which this person sets a password; it works once, for three days."""
    uid = urlsafe_base64_encode(force_bytes(person.pk))
    token = default_token_generator.make_token(person)
    return f"{settings.SITE_ADDRESS}{reverse('password_set', args=[uid, token])}"


def send_first_link(person: Person) -> None:
    """Send a person who was just added the link to set a password."""
    body = render_to_string(
        "people/mail/added.txt",
        {"person": person, "link": password_link(person), "site": settings.SITE_NAME},
    )
    _send(
        _("Your account on Strandline"),
        body,
        person,
        what=_("%(person)s was added, but the letter with the link did not go out.")
        % {"person": person.name},
        next="Have the mail mended; then let them ask for a link themselves, by “Forgotten your"
        " password?” on the page where one signs in. Do not add them again.",
    )


def send_reset(person: Person) -> None:
    """Tell a person that their second factor was reset."""
    body = render_to_string(
        "people/mail/reset.txt",
        {"person": person, "link": f"{settings.SITE_ADDRESS}{reverse('signing_in')}"},
    )
    _send(
        _("Your second factor on Strandline was reset"),
        body,
        person,
        what="The second factor was reset, but the letter that tells them did not go out.",
        next="Tell them yourself; do not reset it again.",
    )


def _send(subject: str, body: str, person: Person, *, what: str, next: str) -> None:
    """Send one letter.

    Raises
    ------
    StoreFailed
        When the mail server or the mail folder does not take it.
    """
    try:
        send_mail(subject, body, None, [person.email])
    except (OSError, InvalidMailer) as fault:  # a mail server's refusals are among the first
        cause = fault if isinstance(fault, OSError) else fault.__context__
        said = getattr(cause, "strerror", None)
        why = "The mail server or the mail folder would not take it"
        raise StoreFailed(what, f"{why}: {said}." if said else f"{why}.", next) from fault


class AskForLink(PasswordResetForm):
    """The e-mail of someone who forgot a password, or never set one."""

    def get_users(self, email: str) -> Any:
        """Give who signs in with this e-mail; also one who has set no password yet."""
        return Person.objects.real().filter(email__iexact=email, is_active=True)

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Send the link to whoever signs in with this e-mail; the page does not say whether any."""
        for person in self.get_users(self.cleaned_data["email"]):
            body = render_to_string(
                "people/mail/forgotten.txt",
                {"person": person, "link": password_link(person), "site": settings.SITE_NAME},
            )
            _send(
                _("Set your password on Strandline"),
                body,
                person,
                what="No letter went out.",
                next="Try again later, or tell whoever runs the site.",
            )
