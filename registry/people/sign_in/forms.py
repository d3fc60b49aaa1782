"""What is typed to sign in, and to change how one signs in."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from registry.people.models import Person
from registry.people.sign_in import brake
from registry.web import NarrowForm


class SignInForm(AuthenticationForm):
    """E-mail and password; after too many wrong tries the e-mail, or the network, must rest."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["label_suffix"] = ""
        super().__init__(*args, **kwargs)
        self.fields["username"].label = _("E-mail")

    def clean(self) -> dict[str, Any]:
        """Check the password, and count the wrong ones."""
        assert self.request is not None
        email = self.cleaned_data.get("username", "").lower()
        network = brake.network_of(self.request)
        is_of_network = brake.OF_NETWORK.holds(network)
        if is_of_network or brake.OF_EMAIL.holds(email):
            brake.tell(self.request, "Sign-in held back after too many wrong tries")
            raise ValidationError(_FROM_HERE if is_of_network else _FOR_THIS)
        try:
            cleaned: dict[str, Any] = super().clean()
        except ValidationError:
            brake.OF_EMAIL.count(email)
            brake.OF_NETWORK.count(network)
            # Asked of a known and an unknown e-mail alike, so that both take as long.
            known = Person.objects.filter(email__iexact=email).values_list("pk", flat=True).first()
            brake.tell(self.request, "Sign-in refused", known)
            raise
        brake.OF_EMAIL.release(email)
        return cleaned


_FOR_THIS = _("Too many wrong tries for this e-mail. Wait five minutes, or set a new password.")
_FROM_HERE = _("Too many wrong tries from your network. Wait five minutes, then try again.")


class PasscodeForm(NarrowForm):
    """The second step: a code of the app or a recovery code; or a passkey, which a script fills."""

    passcode = forms.CharField(
        label=_("Code"),
        max_length=20,
        required=False,
        help_text=_("Six digits from the app on your phone, or one of your recovery codes."),
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )
    secret_credential = forms.CharField(
        required=False, max_length=20_000, widget=forms.HiddenInput(attrs={"data-credential": ""})
    )

    def clean(self) -> dict[str, Any]:
        """See that one of the two came."""
        given = self.cleaned_data
        if not self.errors and not given["passcode"] and not given["secret_credential"]:
            self.add_error("passcode", _("Missing: fill this in."))
        return given


class OwnPasswordForm(NarrowForm):
    """One's password once more, before something that a borrowed browser should not do."""

    password = forms.CharField(
        label=_("Your password"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        self.person = person
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)

    def clean_password(self) -> str:
        """Check it, under the same brake as where one signs in."""
        said: str = self.cleaned_data["password"]
        email = self.person.email.lower()
        if brake.OF_EMAIL.holds(email):
            raise ValidationError(_FOR_THIS)
        if not self.person.check_password(said):
            brake.OF_EMAIL.count(email)
            raise ValidationError(_("Not your password."))
        return said


class SetUpForm(OwnPasswordForm):
    """The first code that the app shows, and the password."""

    field_order = ("passcode", "password")

    passcode = forms.CharField(
        label=_("Code that the app shows"),
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


class PasskeyForm(OwnPasswordForm):
    """What the passkey is called, and the password; a script fills in the passkey itself."""

    field_order = ("name", "password")

    name = forms.CharField(
        label=_("Name of the passkey"),
        max_length=60,
        help_text=_("The device that holds it: “office computer”."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    secret_credential = forms.CharField(
        required=False, max_length=20_000, widget=forms.HiddenInput(attrs={"data-credential": ""})
    )

    def clean_secret_credential(self) -> str:
        """See that the browser made one."""
        said: str = self.cleaned_data["secret_credential"]
        if not said:
            raise ValidationError(
                _("No passkey arrived: it is made by a script, which this browser did not run.")
            )
        return said
