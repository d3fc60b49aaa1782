"""Signing in, in one step or two, passwords, and the page on how one signs in."""

import time
from typing import Any

from allauth.mfa.utils import decrypt, encrypt
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash, views
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse, reverse_lazy
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext_lazy as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST

from registry.errors import Refusal, Unseen
from registry.people.letters import AskForLink
from registry.people.models import Person
from registry.people.sign_in import actions, brake, factor, passkeys
from registry.people.sign_in.duty import owes
from registry.people.sign_in.forms import (
    OwnPasswordForm,
    PasscodeForm,
    PasskeyForm,
    SetUpForm,
    SignInForm,
)
from registry.people.sign_in.qr import qr_svg
from registry.people.sign_in.sealing import Sealing
from registry.web import person_of

SECOND_STEP_S = 600
_WAITING = "second_step"
_SECRET = "second_factor_secret"  # noqa: S105 - the name under which it lies, sealed


class SignIn(views.LoginView):
    """Sign in with e-mail and password; whoever has a second factor is then asked for it."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    @property
    def extra_context(self) -> dict[str, Any]:  # type: ignore[override]  # why: read anew on each request
        """Whether nobody at all can sign in yet; then the page says how the first one is made."""
        return {"is_empty": not Person.objects.real().exists()}

    def form_valid(self, form: Any) -> HttpResponse:
        """Sign in, or lead to the second step: until that is done there is no session of theirs."""
        person: Person = form.get_user()
        if person.second_factor_on is None:
            return super().form_valid(form)
        self.request.session.cycle_key()
        self.request.session[_WAITING] = {
            "person": person.pk,
            "match": person.get_session_auth_hash(),
            "at": time.time(),
            "next": self.get_success_url(),
        }
        return HttpResponseRedirect(reverse("second_step"))


def _waiting(request: HttpRequest) -> Person | None:
    """Give the person whose password was right a short while ago, and is still theirs."""
    waiting = request.session.get(_WAITING)
    if waiting is None or time.time() - waiting["at"] > SECOND_STEP_S:
        return None
    found: Person | None = Person.objects.filter(pk=waiting["person"], is_active=True).first()
    if found is None or not constant_time_compare(found.get_session_auth_hash(), waiting["match"]):
        return None
    return found


def _from_the_start(request: HttpRequest) -> HttpResponse:
    if request.session.pop(_WAITING, None):
        messages.info(request, _("The second step took too long. Begin again."))
    return HttpResponseRedirect(reverse("sign_in"))


@never_cache
def second_step(request: HttpRequest) -> HttpResponse:
    """Ask for the second factor, and sign in."""
    if request.user.is_authenticated:
        return HttpResponseRedirect(reverse(settings.LOGIN_REDIRECT_URL))
    person = _waiting(request)
    if person is None:
        return _from_the_start(request)
    sent = request.method == "POST"
    form = PasscodeForm(request.POST if sent else None, label_suffix="")
    if sent and form.is_valid() and _passed(request, person, form):
        leads_to = request.session.pop(_WAITING)["next"]
        login(request, person, backend=settings.AUTHENTICATION_BACKENDS[0])
        return HttpResponseRedirect(leads_to)
    has_passkey = bool(factor.passkeys_of(person))
    return render(
        request,
        "people/second_step.html",
        {"form": form, "asked": passkeys.asked_to_show(person) if has_passkey else ""},
        status=422 if sent else 200,
    )


def _passed(request: HttpRequest, person: Person, form: PasscodeForm) -> bool:
    """Say whether the second factor holds; a wrong one is counted and told on the form."""
    whom = str(person.pk)
    if brake.OF_CODES.holds(whom):
        brake.tell(request, "Second step held back after too many wrong codes", person.pk)
        form.add_error("passcode", _("Too many wrong codes. Wait a quarter of an hour."))
        return False
    if problem := _wrong(person, form.cleaned_data):
        brake.OF_CODES.count(whom)
        brake.tell(request, "Second step refused", person.pk)
        form.add_error("passcode", problem)
        return False
    brake.OF_CODES.release(whom)
    return True


def _wrong(person: Person, given: dict[str, str]) -> Any:
    """Say what is wrong with a code or a passkey; nothing where it holds, and is used up."""
    if not given["secret_credential"]:
        holds = factor.takes(person, given["passcode"])
        return "" if holds else _("Not a code for now, or used already. Type the newest one.")
    try:
        passkeys.shown(person, given["secret_credential"]).record_usage()
    except ValidationError as problem:
        return problem
    return ""


# --------------------------------------------------------------------------------------- passwords


class Forgotten(views.PasswordResetView):
    """Ask for the link that sets a password."""

    template_name = "people/password_forgotten.html"
    form_class = AskForLink
    success_url = reverse_lazy("password_sent")

    def form_valid(self, form: Any) -> HttpResponse:
        """Send the link, but not so often that someone's letter box is filled with them."""
        email, network = form.cleaned_data["email"].lower(), brake.network_of(self.request)
        if brake.OF_LETTERS_TO_A_NETWORK.holds(network):
            brake.tell(self.request, "Letters held back after too many")
            form.add_error(None, _("Too many links were asked for from here. Wait a while."))
            return self.form_invalid(form)
        brake.OF_LETTERS_TO_A_NETWORK.count(network)
        if brake.OF_LETTERS.holds(email):  # said of a known and an unknown e-mail alike: nothing
            return HttpResponseRedirect(str(self.success_url))
        brake.OF_LETTERS.count(email)
        return super().form_valid(form)


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
        messages.success(self.request, _("Your password is set. Sign in with it."))
        return super().form_valid(form)


class ChangePassword(views.PasswordChangeView):
    """Change one's password, with the old one."""

    template_name = "people/password_change.html"

    def get_success_url(self) -> str:
        """Go back to one's own page."""
        messages.success(
            self.request,
            _("Your password is changed. Wherever else you were signed in, you are signed out."),
        )
        return reverse("person", args=[self.request.user.pk])


# ----------------------------------------------------------------------------- how one signs in


@login_required
@never_cache
def signing_in(request: HttpRequest) -> HttpResponse:
    """Show how one signs in: password, second factor, passkeys, and where else one is."""
    asking = person_of(request)
    held = factor.held_by(asking) if asking.second_factor_on else None
    return render(request, "people/signing_in.html", {"held": held, "is_owed": owes(asking)})


@login_required
@never_cache
@sensitive_variables("secret", "codes")
def set_up(request: HttpRequest) -> HttpResponse:
    """Set a second factor up: an app reads the code, and shows that it did."""
    asking = person_of(request)
    if asking.second_factor_on is not None:
        return HttpResponseRedirect(reverse("signing_in"))
    if _SECRET not in request.session:
        request.session[_SECRET] = encrypt(factor.new_secret())
    secret = decrypt(request.session[_SECRET])
    sent, refusal, status = request.method == "POST", None, 200
    form = SetUpForm(request.POST if sent else None, person=asking)
    if sent and form.is_valid():
        try:
            asking, codes = actions.turn_on_second_factor(
                asking, secret=secret, code=form.cleaned_data["passcode"], by=asking
            )
        except Refusal as refused:
            refusal, status = refused, refused.status
            for name, complaint in refused.fields.items():
                form.add_error(name, complaint)
        else:
            del request.session[_SECRET]
            update_session_auth_hash(request, asking)
            return _shown_once(request, codes)
    elif sent:
        status = 422
    address = Sealing().build_totp_url(asking, secret)
    return render(
        request,
        "people/second_factor.html",
        {
            "form": form,
            "refusal": refusal,
            "qr": qr_svg(address, str(_("QR code with the secret that stands beside it in text"))),
            "secret": " ".join(secret[at : at + 4] for at in range(0, len(secret), 4)),
            "is_owed": owes(asking),
        },
        status=status,
    )


def _shown_once(request: HttpRequest, codes: list[str]) -> HttpResponse:
    """Show recovery codes, on the answer to what made them and nowhere else."""
    half = len(codes[0]) // 2
    shown = [f"{code[:half]} {code[half:]}" for code in codes]
    return render(request, "people/recovery_codes.html", {"codes": shown})


def _with_password(
    request: HttpRequest, words: dict[str, Any]
) -> tuple[OwnPasswordForm, HttpResponse | None]:
    """Give the form that asks the password again, and the page while it is not right."""
    sent = request.method == "POST"
    form = OwnPasswordForm(request.POST if sent else None, person=person_of(request))
    if sent and form.is_valid():
        return form, None
    page = render(
        request, "people/with_password.html", {"form": form, **words}, status=422 if sent else 200
    )
    return form, page


@login_required
@never_cache
def turn_off(request: HttpRequest) -> HttpResponse:
    """Turn the second factor off, with the password."""
    asking = person_of(request)
    if asking.second_factor_on is None:
        return HttpResponseRedirect(reverse("signing_in"))
    words = {
        "heading": _("Turn the second factor off?"),
        "lede": _("Your password alone then lets anyone in who has it. Passkeys go too."),
        "submit": _("Turn it off"),
    }
    _form, page = _with_password(request, words)
    if page is not None:
        return page
    asking = actions.turn_off_second_factor(asking, by=asking)
    update_session_auth_hash(request, asking)
    messages.success(request, _("The second factor is off."))
    return HttpResponseRedirect(reverse("signing_in"))


@login_required
@never_cache
@sensitive_variables("codes")
def new_codes(request: HttpRequest) -> HttpResponse:
    """Make new recovery codes, with the password."""
    asking = person_of(request)
    if asking.second_factor_on is None:
        return HttpResponseRedirect(reverse("signing_in"))
    words = {
        "heading": _("New recovery codes?"),
        "lede": _("The old ones, used or not, hold no more from then on."),
        "submit": _("Make new codes"),
    }
    _form, page = _with_password(request, words)
    if page is not None:
        return page
    return _shown_once(request, actions.renew_recovery_codes(asking, by=asking))


@login_required
@never_cache
def add_passkey(request: HttpRequest) -> HttpResponse:
    """Add a passkey, with the password; the browser makes it."""
    asking = person_of(request)
    if asking.second_factor_on is None:
        return HttpResponseRedirect(reverse("set_up_second_factor"))
    sent, refusal, status = request.method == "POST", None, 200
    form = PasskeyForm(request.POST if sent else None, person=asking)
    if sent and form.is_valid():
        given = form.cleaned_data
        try:
            credential = passkeys.made(given["secret_credential"])
            actions.add_passkey(asking, name=given["name"], credential=credential, by=asking)
        except ValidationError as problem:
            form.add_error(None, problem)
            status = 422
        except Refusal as refused:
            refusal, status = refused, refused.status
            for name, complaint in refused.fields.items():
                form.add_error(name, complaint)
        else:
            messages.success(request, _("The passkey was added."))
            return HttpResponseRedirect(reverse("signing_in"))
    elif sent:
        status = 422
    return render(
        request,
        "people/passkey.html",
        {"form": form, "refusal": refusal, "asked": passkeys.asked_to_make(asking)},
        status=status,
    )


@login_required
@never_cache
def remove_passkey(request: HttpRequest, pk: int) -> HttpResponse:
    """Remove one of one's own passkeys, with the password."""
    asking = person_of(request)
    passkey = next((one for one in factor.passkeys_of(asking) if one.pk == pk), None)
    if passkey is None:
        raise Unseen(
            "Nothing was removed.", "You have no such passkey.", "Look at the list of your own."
        )
    words = {
        "heading": _("Remove “%(name)s”?") % {"name": passkey.data["name"]},
        "lede": _("It no longer answers the second step here; the device itself still holds it."),
        "submit": _("Remove it"),
    }
    _form, page = _with_password(request, words)
    if page is not None:
        return page
    actions.remove_passkey(asking, passkey=passkey, by=asking)
    messages.success(request, _("The passkey was removed."))
    return HttpResponseRedirect(reverse("signing_in"))


@login_required
@require_POST
def elsewhere(request: HttpRequest) -> HttpResponse:
    """End every other session of one's own."""
    asking = person_of(request)
    asking = actions.end_sessions(asking, by=asking)
    update_session_auth_hash(request, asking)
    messages.success(request, _("Wherever else you were signed in, you are signed out."))
    return HttpResponseRedirect(reverse("signing_in"))
