"""Letters to people about signing in: the link that sets a password."""

from typing import Any

from django.conf import settings
from django.contrib.auth.forms import PasswordResetForm
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import send_mail
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

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
    send_mail("Your account on Strandline", body, None, [person.email])


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
            send_mail("Set your password on Strandline", body, None, [person.email])
