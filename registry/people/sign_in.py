"""Signing in and passwords: Django's own views, with a brake on guessing."""

import hashlib
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import views
from django.contrib.auth.forms import AuthenticationForm
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.urls import reverse, reverse_lazy

from registry.people.letters import AskForLink

TRIES = 10
WAIT_S = 300


class SignInForm(AuthenticationForm):
    """E-mail and password; after ten wrong tries for one e-mail it must rest for five minutes."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["label_suffix"] = ""
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "E-mail"

    def clean(self) -> dict[str, Any]:
        """Check the password, and count the wrong ones."""
        said = self.cleaned_data.get("username", "").lower()
        key = f"sign-in-{hashlib.sha256(said.encode()).hexdigest()}"
        if cache.get(key, 0) >= TRIES:
            raise ValidationError(
                "Too many wrong tries for this e-mail. Wait five minutes, or set a new password."
            )
        try:
            cleaned: dict[str, Any] = super().clean()
        except ValidationError:
            cache.add(key, 0, WAIT_S)
            cache.incr(key)
            raise
        cache.delete(key)
        return cleaned


class SignIn(views.LoginView):
    """Sign in with e-mail and password."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class Forgotten(views.PasswordResetView):
    """Ask for the link that sets a password."""

    template_name = "people/password_forgotten.html"
    form_class = AskForLink
    success_url = reverse_lazy("password_sent")


class Sent(views.PasswordResetDoneView):
    """Say where to look for the link, and nothing about who has an account."""

    template_name = "people/password_sent.html"

    @property
    def extra_context(self) -> dict[str, Any]:  # type: ignore[override]  # why: read anew on each request
        """Where the letters lie on a machine that sends none; only while it is being worked on."""
        mailbox = settings.MAILERS["default"].get("OPTIONS", {}).get("file_path", "")
        return {"mailbox": mailbox if settings.DEBUG else ""}


class SetPassword(views.PasswordResetConfirmView):
    """Set a password by the link."""

    template_name = "people/password_set.html"
    success_url = reverse_lazy("sign_in")

    def form_valid(self, form: Any) -> HttpResponse:
        """Say that it is set."""
        messages.success(self.request, "Your password is set. Sign in with it.")
        return super().form_valid(form)


class ChangePassword(views.PasswordChangeView):
    """Change one's password, with the old one."""

    template_name = "people/password_change.html"

    def get_success_url(self) -> str:
        """Go back to one's own page."""
        messages.success(self.request, "Your password is changed.")
        return reverse("person", args=[self.request.user.pk])
