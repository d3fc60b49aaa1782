"""Pages of the morning's mail and of one's own calendar; two of them work without signing in."""

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_POST, require_safe

from registry.desk.calendars import calendar_of, end_secret, new_secret, person_at
from registry.desk.forms import ChooseMail
from registry.desk.letters import choose, chosen_by, person_of_link
from registry.desk.models import CalendarKey, MailChoice
from registry.errors import Unseen
from registry.web import person_of


def _page(request: HttpRequest, form: ChooseMail | None = None, **more: Any) -> HttpResponse:
    person = person_of(request)
    form = form or ChooseMail(initial={"how": chosen_by(person)}, label_suffix="")
    key = CalendarKey.objects.filter(person=person).exclude(digest=None).first()
    status = 422 if form.errors else 200
    return render(request, "desk/morning.html", {"form": form, "key": key} | more, status=status)


@login_required
@never_cache
def morning(request: HttpRequest) -> HttpResponse:
    """Show and choose when one is written to, and whether there is a calendar."""
    if request.method != "POST":
        return _page(request)
    form = ChooseMail(request.POST, label_suffix="")
    if not form.is_valid():
        return _page(request, form)
    choose(person_of(request), form.cleaned_data["how"])
    messages.success(request, _("Your choice was kept."))
    return HttpResponseRedirect(reverse("morning"))


@login_required
@never_cache
@require_POST
@sensitive_variables("secret")
def make_calendar(request: HttpRequest) -> HttpResponse:
    """Give one's calendar a new address, shown this once; an older one dies."""
    secret = new_secret(person_of(request))
    address = request.build_absolute_uri(reverse("secret_calendar", args=[secret]))
    return _page(request, address=address)


@login_required
@require_POST
def end_calendar(request: HttpRequest) -> HttpResponse:
    """Switch the calendar's address off."""
    end_secret(person_of(request))
    messages.success(request, _("The address of your calendar leads nowhere now."))
    return HttpResponseRedirect(reverse("morning"))


@csrf_exempt
@never_cache
def switch_off(request: HttpRequest, signed: str) -> HttpResponse:
    """Switch the letters off by a signed link, asked by POST; a look shows the button alone.

    A mail program sends the POST by itself, without a cookie, when its owner presses its own
    button (RFC 8058, section 3.2); the signature is what says who asks.
    """
    person = person_of_link(signed)
    is_off = request.method == "POST"
    if is_off:
        choose(person, MailChoice.How.NEVER)
    return render(request, "desk/mail_off.html", {"is_off": is_off})


def _file(person: Any) -> HttpResponse:
    heads = {
        "Cache-Control": "private, no-cache",
        "Content-Disposition": 'attachment; filename="strandline.ics"',
    }
    content = calendar_of(person, timezone.localdate())
    return HttpResponse(content, content_type="text/calendar; charset=utf-8", headers=heads)


@login_required
@require_safe
def calendar(request: HttpRequest) -> HttpResponse:
    """Give one's own calendar as a file."""
    return _file(person_of(request))


@require_safe
@sensitive_variables("secret")
def secret_calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Give the calendar at a secret address to the program that knows it."""
    person = person_at(secret)
    if person is None:
        raise Unseen(
            "There is no calendar here.",
            "The address was made anew, switched off, or never made.",
            "Sign in, and make the address of your calendar on your own page.",
        )
    return _file(person)
